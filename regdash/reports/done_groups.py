"""
What operations are grouped by when they are counted by their own date: that date, time since the primary, the reason,
what was done; and the fields of joints, which only an operation with a known primary has.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from regdash import fields, grouping
from regdash.cohort import Known
from regdash.errors import FilterError
from regdash.fields import FIELDS, Field
from regdash.grouping import Grouping
from regdash.stats.years import days_in
from regdash.store.cuts import Cut
from regdash.suggest import nearest

NO_PRIMARY_NUMBER = -2
NO_PRIMARY = "no primary here"
OF_OPERATION = ("joint", "sex", "hospital", "region", "surgeon")  # fields that every operation has of itself
PLACES = ("hospital", "region", "surgeon")  # of these, those that the primary may have otherwise
OF_REVISION = ("reason", "action", "revised", "stem", "augment", "graft")  # filter words on the revision itself
PER_YEAR = {"year": 1, "quarter": 4, "month": 12}
SINCE_YEARS = (1, 5, 10)  # years since the primary at which one window ends and the next begins

_REASON = replace(FIELDS["reason"], column="reason_group", enum="reason_group_words")


@dataclass(frozen=True)
class Period(Grouping):
    """By the year, quarter or month of the operation."""

    @property
    def in_a_year(self) -> int:
        """How many of them a year has."""
        return PER_YEAR[self.field.key]

    def sql(self) -> str:
        """Number them from year 0 on."""
        months = 12 // self.in_a_year
        return f"(year(done_date) * {self.in_a_year} + (month(done_date) - 1) // {months})::integer"

    def label(self, number: int, known: Known) -> str:
        """Write 2024, 2024Q1 or 2024-01, as filters do."""
        year, part = divmod(number, self.in_a_year)
        if self.in_a_year == 1:
            return f"{year}"
        return f"{year}Q{part + 1}" if self.in_a_year == 4 else f"{year}-{part + 1:02d}"

    def place(self, number: int, known: Known) -> tuple[bool, int | str]:
        """In the order of time."""
        return False, number

    def word(self, number: int, known: Known) -> str:
        """Write the filter word that keeps its revisions."""
        return f"revised={self.label(number, known)}"

    def days(self, number: int) -> tuple[date, date]:
        """First and last day."""
        months = 12 // self.in_a_year
        firsts = [divmod(number * months + more, 12) for more in (0, months)]
        first, after = (date(year, month + 1, 1) for year, month in firsts)
        return first, after - timedelta(days=1)


@dataclass(frozen=True)
class Since(Grouping):
    """By time since the primary; a revision on the last day of a window belongs to it."""

    def sql(self) -> str:
        """Number the windows."""
        edges = " ".join(f"when day <= {days_in(years)} then {n}" for n, years in enumerate(SINCE_YEARS))
        return f"(case {edges} else {len(SINCE_YEARS)} end)"

    def label(self, number: int, known: Known) -> str:
        """Write 0–1 years, over 10 years."""
        if number == len(SINCE_YEARS):
            return f"over {SINCE_YEARS[-1]} years"
        return f"{(0, *SINCE_YEARS)[number]}–{SINCE_YEARS[number]} years"

    def place(self, number: int, known: Known) -> tuple[bool, int | str]:
        """In the order of time."""
        return False, number


PERIODS = {
    key: Period(Field(key, f"{key} of the operation", "date", "done_date", example=f"{key}")) for key in PER_YEAR
}
SINCE = Since(Field("since", "time since the primary", "whole", "day"))
REASON = Grouping(_REASON)
OWN: dict[str, Grouping] = {**PERIODS, "since": SINCE, "reason": REASON, "action": Grouping(FIELDS["action"])}


def parse(text: str) -> tuple[Grouping, ...]:
    """
    Read what revisions are grouped by: fields of joints as anywhere, and year, quarter, month, since, reason, action.

    Raises:
        FilterError: an unknown name, or one named twice.

    >>> [str(one) for one in parse("class,year,since")]
    ['class', 'year', 'since']
    """
    parts = [part.strip().lower() for part in text.split(",") if part.strip()]
    for part in parts:
        if parts.count(part) > 1:
            raise FilterError(f"{part} is named twice in the grouping {text}")
    return tuple(OWN[part] if part in OWN else _of_joint(part) for part in parts)


def _of_joint(part: str) -> Grouping:
    key = part.partition(":")[0]
    if key not in fields.FIELDS:
        usable = [f.key for f in fields.FIELDS.values() if not f.component and not f.outcome]
        raise FilterError(f"Revisions are not grouped by {key}. {nearest(key, [*OWN, *usable], most=40)}")
    return grouping.parse(part)[0]


def is_of_operation(by: Grouping) -> bool:
    """Whether every operation has a place in it, whether its primary is known here or not."""
    return by.field.key in OF_OPERATION or (by.field.key in OWN and by != SINCE)


def expression(by: Grouping) -> str:
    """Say in SQL which group an operation is in; one without a primary here has a group of its own."""
    return by.sql() if is_of_operation(by) else f"(case when is_linked then {by.sql()} else {NO_PRIMARY_NUMBER} end)"


@dataclass(frozen=True)
class Names:
    """The names of groups on one cut."""

    by: tuple[Grouping, ...]
    known: Mapping[str, Sequence[str]]

    @classmethod
    def on(cls, cut: Cut, by: Sequence[Grouping]) -> "Names":
        """Name them by the lists of the cut."""
        return cls(tuple(by), {**cut.known, "reason": cut.words[_REASON.enum]})

    def label(self, numbers: Sequence[int]) -> str:
        """Name a group; "all" where nothing groups."""
        names = [
            NO_PRIMARY if number == NO_PRIMARY_NUMBER else by.label(number, self.known)
            for by, number in zip(self.by, numbers, strict=True)
        ]
        return ", ".join(names) or "all"

    def place(self, numbers: Sequence[int]) -> list[tuple[bool, bool, int | str]]:
        """Sort key of a group: those without a primary here last."""
        return [
            (True, False, 0) if number == NO_PRIMARY_NUMBER else (False, *by.place(number, self.known))
            for by, number in zip(self.by, numbers, strict=True)
        ]

    def words(self, numbers: Sequence[int]) -> tuple[str, ...] | None:
        """The filter words that keep a group; None where no words do."""
        if NO_PRIMARY_NUMBER in numbers or SINCE in self.by:
            return None
        return tuple(by.word(number, self.known) for by, number in zip(self.by, numbers, strict=True))
