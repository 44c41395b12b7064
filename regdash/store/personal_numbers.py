"""
What looks like a person's number or date of birth in free text: refused where it is typed, hidden where it would stay.

No form of a country is known here. What is looked for is what most of them are made of: a date of birth and a few
signs more, ten digits in groups, or a date of birth itself. A date on which joints are operated is none of these.
"""

import re
from calendar import monthrange
from collections.abc import Iterator

from regdash.errors import InputError

HIDDEN_NUMBER = "[number]"
FIRST_REGISTERS = 1970  # a full date before is nobody's operation on any register of joint replacements
LAST_BORN = 2009  # of people who are given a joint; later years in a long number are those of submissions
_EDGE, _END = r"(?<![\w.,/-])", r"(?![\w/-]|[.,]\d)"
_LONG = re.compile(rf"{_EDGE}(\d{{8}}) ?[-+ ]? ?(?:\d{{4,5}}|\d{{2,3}}[A-Z]\w?)?{_END}")  # 19450312-1234
_SHORT = re.compile(rf"{_EDGE}(\d{{6}})(?:/\d{{3}}|(?: ?[-+/] ?| )?(?:\d{{3}}[0-9A-Z]|\d{{5}})){_END}")  # 450312-1234
_GROUPS = re.compile(rf"{_EDGE}\d{{3}}([ -])\d{{3}}\1\d{{4}}{_END}")  # 943 476 5919
_DATE = re.compile(r"(?<![\w-])(?:(\d{4})[-./](\d{1,2})[-./](\d{1,2})|(\d{1,2})[-./](\d{1,2})[-./](\d{4}|\d{2}))(?!\w)")
_BORN = re.compile(r"\b(?:born|birth|birthday|birthdate|dob|d\.o\.b\.?)\b\W*(?:\w+\W+){0,2}$", re.IGNORECASE)


def refuse_personal(text: str) -> str:
    """
    Give a text back that holds nothing like a person's number or date of birth.

    Raises:
        InputError: it does; the number itself is not repeated.

    >>> refuse_personal("links of 2024-03-01 were checked, 1,234 rows of H012-0000077")
    'links of 2024-03-01 were checked, 1,234 rows of H012-0000077'
    """
    if next(_found(text), None) is not None:
        raise InputError("The text seems to hold a person's number or date of birth; leave it out.")
    return text


def without_numbers(text: str) -> str:
    """
    Hide what looks like a person's number or date of birth.

    >>> without_numbers("asked for 19450312-1234, born 3.12.45; answered 2024-03-01")
    'asked for [number], born [number]; answered 2024-03-01'
    """
    for start, end in sorted(_found(text), reverse=True):
        text = f"{text[:start]}{HIDDEN_NUMBER}{text[end:]}"
    return text


def _found(text: str) -> Iterator[tuple[int, int]]:
    """Where such numbers stand; none within another."""
    taken: list[tuple[int, int]] = []
    for form, is_one in ((_LONG, _is_long), (_SHORT, _is_short), (_GROUPS, _always), (_DATE, _is_birth)):
        for match in form.finditer(text):
            start, end = match.span()
            if is_one(match) and all(end <= first or last <= start for first, last in taken):
                taken.append((start, end))
                yield start, end


def _is_long(match: re.Match[str]) -> bool:
    digits = match[1]
    last = LAST_BORN if len(match[0]) > len(digits) else FIRST_REGISTERS - 1
    return any(1900 <= year <= last and _is_day(year, month, day) for year, month, day in _full(digits))


def _full(digits: str) -> Iterator[tuple[int, int, int]]:
    yield int(digits[:4]), int(digits[4:6]), int(digits[6:])
    yield int(digits[4:]), int(digits[2:4]), int(digits[:2])


def _is_short(match: re.Match[str]) -> bool:
    one, two, three = (int(match[1][n : n + 2]) for n in (0, 2, 4))
    return _is_day(1900 + one, two, three) or _is_day(1900 + three, two, one)


def _always(_: re.Match[str]) -> bool:
    return True


def _is_birth(match: re.Match[str]) -> bool:
    """A full date before registers began, or any that the words before it call one of birth."""
    year_first, month_first, day_first, day, month, year = match.groups()
    if year_first:
        whole = int(year_first), int(month_first), int(day_first)
    else:
        whole = int(year) + (1900 if len(year) == 2 else 0), int(month), int(day)
    is_day = _is_day(*whole) or _is_day(whole[0], whole[2], whole[1])
    is_old = len(year or year_first) == 4 and 1900 <= whole[0] < FIRST_REGISTERS
    return is_day and (is_old or bool(_BORN.search(match.string[: match.start()])))


def _is_day(year: int, month: int, day: int) -> bool:
    return 1 <= month <= 12 and year > 0 and 1 <= day <= monthrange(year, month)[1]
