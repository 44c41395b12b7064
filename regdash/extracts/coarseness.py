"""
How much of a field an extract tells: as it is recorded, or coarser, in the words of a field list.

    as recorded                      years of 5   year   quarter   month   day
    bands of 10 from 50 to 80        months   quarters   years   days
    bands at 25, 30, 35, 40          group   detail
    only osteoarthritis; tumour      none
"""

import re
from dataclasses import dataclass, field

from regdash.errors import ExtractError
from regdash.vocabulary import NOT_RECORDED

AS_RECORDED, NONE = "as recorded", "none"
ONLY, BANDS, YEARS_OF = "only", "bands", "years of"
GROUP, DETAIL = "group", "detail"
OTHER = "other"
DAY, MONTH, QUARTER, YEAR = "day", "month", "quarter", "year"
DAYS, MONTHS, QUARTERS, YEARS = "days", "months", "quarters", "years"
MONTHS_PER = {MONTHS: 1, QUARTERS: 3, YEARS: 12, MONTH: 1, QUARTER: 3, YEAR: 12}

# What may be said of each kind of field beside none; the first words of it.
ALLOWED = {
    "words": (AS_RECORDED, ONLY),
    "code": (AS_RECORDED,),
    "flag": (AS_RECORDED,),
    "whole": (AS_RECORDED, BANDS),
    "decimal": (AS_RECORDED, BANDS),
    "date": (DAY, MONTH, QUARTER, YEAR, YEARS_OF),
    "time": (DAYS, MONTHS, QUARTERS, YEARS),
    "reason": (GROUP, DETAIL),
}
_FORMS = {
    AS_RECORDED: "as recorded",
    ONLY: "only WORD; WORD",
    BANDS: "bands of 10 from 50 to 80, bands at 25, 30, 35",
    YEARS_OF: "years of 5",
}
_BANDS_OF = re.compile(r"bands of (\d+) from (\d+) to (\d+)")
_MOST_BANDS = 100


@dataclass(frozen=True)
class Coarseness:
    """What is told of one field."""

    said: str  # in the words of the list
    way: str  # one of those above
    edges: tuple[float, ...] = ()  # of bands: the lower edge of each after the first, open one
    years: int = 0  # of bands of calendar years
    only: tuple[str, ...] = field(default=())  # the words that are told; others are OTHER

    def bands(self, whole: bool) -> tuple[str, ...]:
        """Name the bands, lowest first."""
        first, *_, last = *self.edges, self.edges[-1]
        between = [_band(low, high, whole) for low, high in zip(self.edges, self.edges[1:])]
        return (f"under {first:g}", *between, f"{last:g} and over")


def _band(low: float, high: float, whole: bool) -> str:
    if not whole:
        return f"{low:g} to under {high:g}"
    return f"{low:g}-{high - 1:g}" if high - low > 1 else f"{low:g}"


def coarser(how: Coarseness) -> Coarseness | None:
    """
    Say the next coarser way to tell a field; None where there is none but leaving it out.

    >>> coarser(Coarseness("bands at 50, 60, 70", BANDS, (50.0, 60.0, 70.0))).said
    'bands at 60'
    >>> coarser(Coarseness("year", YEAR)).said
    'years of 2'
    """
    if how.way == BANDS and len(how.edges) > 1:
        return _read(f"bands at {', '.join(f'{edge:g}' for edge in how.edges[1::2])}")
    if how.way == YEARS_OF:
        return _read(f"years of {2 * how.years}")
    after = {DAY: MONTH, MONTH: QUARTER, QUARTER: YEAR, YEAR: "years of 2"}.get(how.way)
    return _read(after) if after else None


def read_coarseness(name: str, kind: str, words: tuple[str, ...], said: object) -> Coarseness:
    """
    Read what a list says of a field.

    Args:
        kind: a key of ALLOWED.
        words: that the field can have, where they are a closed list.

    Raises:
        ExtractError: it cannot be said of this field.

    >>> read_coarseness("age", "whole", (), "bands of 10 from 50 to 70").bands(whole=True)
    ('under 50', '50-59', '60-69', '70 and over')
    """
    text = " ".join(said.split()) if isinstance(said, str) else ""
    if text == NONE:
        return Coarseness(text, NONE)
    found = _read(text)
    if found is None or found.way not in ALLOWED[kind]:
        ways = ", ".join(_FORMS.get(way, way) for way in ALLOWED[kind])
        raise ExtractError(f"{name} = {said!r} cannot be. It may be: {ways}, none.")
    for word in found.only:
        if word not in words or word in (OTHER, NOT_RECORDED):
            raise ExtractError(f"{name} has no word {word} to tell. Write words of the field, with ; between them.")
    if list(found.edges) != sorted(set(found.edges)) or len(found.edges) > _MOST_BANDS:
        raise ExtractError(f"{name} = {said!r} cannot be: edges of bands rise, and are at most {_MOST_BANDS}.")
    return found


def _read(text: str) -> Coarseness | None:
    if text in (AS_RECORDED, *MONTHS_PER, DAY, DAYS, GROUP, DETAIL):
        return Coarseness(text, text)
    if match := _BANDS_OF.fullmatch(text):
        width, low, high = map(int, match.groups())
        fits = width > 0 and low < high and (high - low) % width == 0
        return Coarseness(text, BANDS, tuple(map(float, range(low, high + 1, width)))) if fits else None
    if re.fullmatch(r"bands at \d+(\.\d+)?(, ?\d+(\.\d+)?)*", text):
        return Coarseness(text, BANDS, tuple(float(part) for part in text.removeprefix("bands at ").split(",")))
    if match := re.fullmatch(r"years of ([1-9]\d?)", text):
        return Coarseness(text, YEARS_OF, years=int(match[1]))
    if text.startswith("only "):
        return Coarseness(text, ONLY, only=tuple(part.strip() for part in text.removeprefix("only ").split(";")))
    return None
