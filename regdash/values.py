"""How the values of a filter are read, written and tested in SQL: words, numbers, dates and their ranges."""

import calendar
import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal, InvalidOperation
from typing import Any

from regdash import vocabulary
from regdash.errors import FilterError
from regdash.fields import Field

Value = str | int | Decimal | date


@dataclass(frozen=True)
class Range:
    """From `lower` to `upper`; None leaves an end open. `text` is how the ends were written."""

    lower: int | Decimal | date | None
    upper: int | Decimal | date | None
    text: str


def written(value: Value | Range, field: Field) -> str:
    """Write a value as filters do: words with hyphens, codes as they are."""
    if isinstance(value, Range):
        return value.text
    if not isinstance(value, str):
        return str(value)
    return value if field.kind == "code" and value != vocabulary.NOT_RECORDED else vocabulary.coded(value)


def within(value: Value | Range, wider: Value | Range) -> bool:
    """Whether one value or range of a field lies within another as a whole; False where they cannot be compared."""
    if not isinstance(wider, Range):
        return value == wider
    if isinstance(value, str):
        return False
    # Both are of one field, so ends compare; a single value is its own both ends.
    lower: Any = value.lower if isinstance(value, Range) else value
    upper: Any = value.upper if isinstance(value, Range) else value
    from_below = wider.lower is None or (lower is not None and lower >= wider.lower)
    to_above = wider.upper is None or (upper is not None and upper <= wider.upper)
    # A decimal range stops short of its upper end, so the end itself lies outside.
    at_open_end = isinstance(value, Decimal) and value == wider.upper
    return from_below and to_above and not at_open_end


def period(text: str) -> tuple[date, date]:
    """First and last day of a date, month, quarter or year: 2015, 2015-03, 2015Q1, 2015-03-31."""
    try:
        if match := re.fullmatch(r"(\d{4})[Qq]([1-4])", text):
            year, last_month = int(match[1]), 3 * int(match[2])
            return date(year, last_month - 2, 1), date(year, last_month, calendar.monthrange(year, last_month)[1])
        if match := re.fullmatch(r"(\d{4})-(\d{2})", text):
            year, month = int(match[1]), int(match[2])
            return date(year, month, 1), date(year, month, calendar.monthrange(year, month)[1])
        if re.fullmatch(r"\d{4}", text):
            return date(int(text), 1, 1), date(int(text), 12, 31)
        if re.fullmatch(r"\d{4}-\d{2}-\d{2}", text):
            return date.fromisoformat(text), date.fromisoformat(text)
    except (ValueError, calendar.IllegalMonthError):
        pass
    raise FilterError(f"{text} is not a date. Write 2015, 2015Q1, 2015-03 or 2015-03-31.")


def read(field: Field, text: str) -> Value | Range:
    """Read one value or range of a field that is not a list of words."""
    if field.kind == "date":  # those of the primary and of a revision are always recorded
        return _date_range(text)
    if vocabulary.spoken(text, (vocabulary.NOT_RECORDED,)):
        return vocabulary.NOT_RECORDED
    if ".." not in text:
        return _number(field, text)
    lower, _, upper = text.partition("..")
    if not lower and not upper:
        raise FilterError(f"{field.key}={text} is open at both ends. Leave the word out instead.")
    low = _number(field, lower) if lower else None
    high = _number(field, upper) if upper else None
    if low is not None and high is not None and low > high:
        raise FilterError(f"{field.key}={text} runs backwards. Write the smaller number first.")
    return Range(low, high, f"{'' if low is None else low}..{'' if high is None else high}")


def _date_range(text: str) -> Range:
    text = text.replace("q", "Q")
    if ".." not in text:
        first, last = period(text)
        return Range(first, last, text)
    lower, _, upper = text.partition("..")
    if not lower and not upper:
        raise FilterError(f"A range of dates needs an end, as in {lower or '2015'}..")
    first_day = period(lower)[0] if lower else None
    last_day = period(upper)[1] if upper else None
    if first_day and last_day and first_day > last_day:
        raise FilterError(f"{text} runs backwards. Write the earlier date first.")
    return Range(first_day, last_day, text)


def _number(field: Field, text: str) -> int | Decimal:
    try:
        number = Decimal(text)
        if not number.is_finite() or abs(number) > 1_000_000:
            raise InvalidOperation
        if field.kind == "whole":
            if number != number.to_integral_value():
                raise InvalidOperation
            return int(number)
        return number
    except InvalidOperation:
        wanted = "a whole number" if field.kind == "whole" else "a number"
        raise FilterError(f"{field.key} wants {wanted} or a range, as in {field.example}; {text} is not one.") from None


def test(field: Field, value: Value | Range, bind: Callable[[Any], str]) -> str:
    """
    Say in SQL that a field has a value.

    Whole numbers and dates are closed at both ends, decimals half-open: bands then meet
    without a gap and without a joint in two of them.
    """
    if isinstance(value, Range):
        return _range_test(field, value, bind)
    if field.key == "reason":
        return _reason_test(str(value), bind)
    if value == vocabulary.NOT_RECORDED and not field.enum:
        return f"({field.column} is null)" if field.kind != "code" else f"{field.column} = ''"
    if field.enum == "boolean":
        return f"{field.column} = {bind(value == 'yes')}"
    if field.enum:
        return f"{field.column} = try_cast({bind(value)} as {field.enum})"
    return f"{field.column} = {bind(value)}"


def _reason_test(reason: str, bind: Callable[[Any], str]) -> str:
    """A reason may be named by its group or in detail; a group's name means the whole group."""
    groups = {group for groups in vocabulary.REASON_GROUPS.values() for group in groups}
    column, enum = ("reason_group", "reason_group_words") if reason in groups else ("reason", "reason_words")
    return f"{column} = try_cast({bind(reason)} as {enum})"


def _range_test(field: Field, value: Range, bind: Callable[[Any], str]) -> str:
    upper_sign = "<" if field.kind == "decimal" else "<="
    parts = []
    if value.lower is not None:
        parts.append(f"{field.column} >= {bind(value.lower)}")
    if value.upper is not None:
        parts.append(f"{field.column} {upper_sign} {bind(value.upper)}")
    return f"({' and '.join(parts)})"
