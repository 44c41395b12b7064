"""Mortality after a primary operation, as it comes back from the question. Proportions run from 0 to 1."""

from dataclasses import dataclass, field
from typing import Any

from regdash.cohort import Cohort
from regdash.grouping import Grouping
from regdash.reports.model import Curve, Group
from regdash.stats.years import days_in, years_in


@dataclass(frozen=True)
class MortalityHead:
    """What the answer carries: what was asked, of which operations, on which cut, how, and with what cautions."""

    measure: str
    cohort: Cohort
    by: tuple[Grouping, ...]
    cut: str
    operations: int | None  # each a patient, a kind of joint and a day; a count is None where the policy withholds it
    joints: int | None
    patients: int | None
    deaths: int | None  # operations whose patient died, over all follow-up
    deaths_known_through: str  # where follow-up for death ends
    median_follow_up: float | None  # years, over all operations asked about, to death, loss or that date
    method: str
    cautions: tuple[str, ...]
    settings: dict[str, Any] = field(default_factory=dict)
    beside: Cohort | None = None  # the second of two cohorts side by side, each of which is a group


@dataclass(frozen=True)
class MortalityRow:
    """Mortality of one group by one day."""

    group: str
    days: int  # since the operation; 0 is its own day
    at_risk: int | None  # operations whose follow-up reaches that day
    deaths: int | None  # up to that day, itself included
    estimate: float | None
    lower: float | None
    upper: float | None
    withheld: str | None = None

    @property
    def years(self) -> float:
        """The same time in years, for charts."""
        return charted_years(self.days)


@dataclass(frozen=True)
class MortalityReport:
    """Mortality by group: a table at chosen days and a curve for each group."""

    head: MortalityHead
    groups: tuple[Group, ...]
    days: tuple[int, ...]
    rows: tuple[MortalityRow, ...]
    curves: tuple[Curve, ...]

    @property
    def years(self) -> tuple[float, ...]:
        """The same times in years, for charts."""
        return tuple(map(charted_years, self.days))


def charted_years(days: int) -> float:
    """
    Give days in years, those that whole quarters of a year end on as such.

    >>> charted_years(365), charted_years(3652), charted_years(182), round(charted_years(90), 4)
    (1.0, 10.0, 0.5, 0.2464)
    """
    quarters = round(4 * years_in(days)) / 4
    return quarters if days_in(quarters) == days else years_in(days)
