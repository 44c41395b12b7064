"""
Choosing rows of a list by its own columns: `ratio>2 q<0.05 state=new`, joined by AND.

A text is chosen by how it begins (`state=under`), a number by a bound or a range closed at both ends
(`revised=5..20`). `a,b` is either; `!=` is not. A row without a figure meets no condition on it, but for `!=`.
"""

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from regdash.errors import FilterError
from regdash.suggest import nearest
from regdash.vocabulary import coded

_TERM = re.compile(r"(?P<key>[a-z_]+)(?P<sign>!=|<=|>=|=|<|>)(?P<value>.*)")
_BOUNDS = ("<=", ">=", "<", ">")


@dataclass(frozen=True)
class RowWord:
    """A column as it is named in a condition."""

    key: str
    about: str
    is_text: bool = False
    sign: str = ">"  # that a condition on a number is begun with


@dataclass(frozen=True)
class Condition:
    """One condition as it was typed."""

    word: RowWord
    sign: str
    values: tuple[str, ...]

    def __str__(self) -> str:
        return f"{self.word.key}{self.sign}{','.join(self.values)}"

    def meets(self, value: Any) -> bool:
        """Whether a row's value meets it."""
        if value is None:
            return self.sign == "!="
        if self.sign in _BOUNDS:
            bound = float(self.values[0])
            return {"<": value < bound, ">": value > bound, "<=": value <= bound, ">=": value >= bound}[self.sign]
        either = any(self._is(value, one) for one in self.values)
        return either is (self.sign == "=")

    def _is(self, value: Any, wanted: str) -> bool:
        if self.word.is_text:
            return coded(str(value)).casefold().startswith(wanted.casefold())
        low, high = _range(wanted)
        return low <= value <= high


@dataclass(frozen=True)
class RowFilter:
    """Conditions on the rows of one list; none keep every row."""

    conditions: tuple[Condition, ...] = ()

    def __str__(self) -> str:
        return " ".join(map(str, self.conditions))

    def keeps(self, values: Mapping[str, Any]) -> bool:
        """Whether a row is shown, by the values of its columns."""
        return all(one.meets(values.get(one.word.key)) for one in self.conditions)


def parse(text: str, words: Sequence[RowWord]) -> RowFilter:
    """
    Read conditions.

    Raises:
        FilterError: a word that is no column, or a value that it cannot have.

    >>> words = [RowWord("ratio", "the ratio"), RowWord("state", "the review", is_text=True)]
    >>> chosen = parse("ratio>2 state=new,under", words)
    >>> chosen.keeps({"ratio": 2.5, "state": "under review"}), chosen.keeps({"ratio": None, "state": "new"})
    (True, False)
    """
    return RowFilter(tuple(_condition(term, words) for term in text.split()))


def _condition(term: str, words: Sequence[RowWord]) -> Condition:
    found = _TERM.fullmatch(term)
    if found is None:
        raise FilterError(f"{term} is no condition on rows. Write a column, a sign and a value, as in ratio>2.")
    word = next((one for one in words if one.key == found["key"]), None)
    if word is None:
        raise FilterError(f"There is no column {found['key']}. {nearest(found['key'], [one.key for one in words])}")
    sign, values = found["sign"], tuple(part for part in found["value"].split(",") if part)
    if not values or (sign in _BOUNDS and len(values) > 1):
        raise FilterError(f"{word.key}{sign} needs one value, as in {word.key}{sign}2.")
    if word.is_text and sign in _BOUNDS:
        raise FilterError(f"{word.key} is a word, not a number: write {word.key}={values[0]}.")
    for value in () if word.is_text else values:
        _refuse_no_number(word, sign, value)
    return Condition(word, sign, values)


def _refuse_no_number(word: RowWord, sign: str, value: str) -> None:
    try:
        low, high = _range(value)
        float(value if sign in _BOUNDS else 0)
    except ValueError:
        raise FilterError(f"{value} is no number for {word.key}. Write {word.key}>2 or {word.key}=1..2.") from None
    if not low <= high:
        raise FilterError(f"{value} begins above its end.")


def _range(text: str) -> tuple[float, float]:
    low, dots, high = text.partition("..")
    if not dots:
        return float(low), float(low)
    return float(low or "-inf"), float(high or "inf")


def candidates(text: str, words: Sequence[RowWord], values: Mapping[str, Iterable[Any]]) -> list[tuple[str, str]]:
    """
    List what the condition being typed may become, and what that means.

    Args:
        values: of the rows that there are, by column; those of texts are offered.
    """
    head, term = text[: len(text) - len(text.rsplit(" ", 1)[-1])], text.rsplit(" ", 1)[-1]
    found = _TERM.fullmatch(term)
    word = next((one for one in words if found and one.key == found["key"]), None)
    if found is None or word is None:
        return [
            (head + one.key + ("=" if one.is_text else ">"), one.about) for one in words if one.key.startswith(term)
        ]
    if not word.is_text:
        return []
    before, comma, last = found["value"].rpartition(",")
    there = sorted({coded(str(value)) for value in values.get(word.key, ()) if value is not None})
    start = head + word.key + found["sign"] + before + comma
    return [(start + value, "") for value in there if value.casefold().startswith(last.casefold())]
