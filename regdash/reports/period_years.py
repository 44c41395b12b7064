"""How long the joints of a group were followed in the periods in which revisions are counted."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date

from regdash.cohort import Cohort
from regdash.grouping import Grouping
from regdash.reports import done_wording as wording
from regdash.reports.counted import count
from regdash.reports.done_asked import DoneAsked
from regdash.reports.done_groups import NO_PRIMARY_NUMBER, OF_REVISION, Period, is_of_operation
from regdash.stats.window_rates import DatedCounts, calendar_table
from regdash.stats.years import years_in
from regdash.store.dated_counts import count_dated
from regdash.store.event_counts import GroupExpressions
from regdash.values import Range

_EPOCH = date(1970, 1, 1)
Days = tuple[int, int]  # first and last of a window, whole days since 1970-01-01


@dataclass(frozen=True, eq=False)
class PeriodYears:
    """Implant-years of each group of revisions in its periods; or why there are none of any group."""

    by: tuple[Grouping, ...]
    asked: tuple[Days, ...] = ()  # windows that the filter names; none: all time
    counts: Mapping[tuple[int, ...], DatedCounts] | None = None  # by the numbers of a group, periods left out
    outcomes: tuple[str, ...] = ()
    why: str | None = None

    def of(self, numbers: tuple[int, ...]) -> float | None:
        """Give the implant-years of a group; None where it has none of its own."""
        own = tuple(n for by, n in zip(self.by, numbers, strict=True) if not isinstance(by, Period))
        if self.counts is None or NO_PRIMARY_NUMBER in own or own not in self.counts:
            return None
        days = sum(_days_in(self.counts[own], window, self.outcomes) for window in self._windows(numbers))
        return float(years_in(float(days)))

    def _windows(self, numbers: tuple[int, ...]) -> Iterator[Days]:
        """What the periods of a group and the windows of the filter have in common."""
        periods = [by.days(n) for by, n in zip(self.by, numbers, strict=True) if isinstance(by, Period)]
        own = [(_day(first), _day(last)) for first, last in periods]
        for first, last in self.asked or ((_day(date.min), _day(date.max)),):
            first, last = max(first, *(a for a, _ in own), first), min(last, *(b for _, b in own), last)
            if first <= last:
                yield first, last


def period_years(asked: DoneAsked) -> PeriodYears:
    """Count the years of the joints that revisions are of; where they cannot be had, say why."""
    why = _why_not(asked)
    if why:
        return PeriodYears(asked.by, why=why)
    joints = Cohort(tuple(c for c in asked.cohort.conditions if c.key not in OF_REVISION))
    fields = tuple(by for by in asked.by if not isinstance(by, Period))
    counted = count(asked.cut, joints, fields)
    expressions = GroupExpressions(tuple(by.sql() for by in fields))
    dated = count_dated(asked.cut, counted.predicate, expressions, counted.numbers)
    counts = dict(zip(counted.numbers, dated, strict=True))
    return PeriodYears(asked.by, tuple(_asked_windows(asked.cohort)), counts, counted.table.outcomes)


def _why_not(asked: DoneAsked) -> str | None:
    if asked.is_by_place:
        return wording.NO_YEARS_OF_PLACES
    made_later = [by for by in asked.by if is_of_operation(by) and by.field.outcome]
    since = [by for by in asked.by if by.field.key == "since"]
    chosen = [c for c in asked.cohort.conditions if c.field.outcome and (c.key not in OF_REVISION or c.negated)]
    return wording.NO_YEARS_OF_GROUPS if made_later or since or chosen else None


def _asked_windows(cohort: Cohort) -> list[Days]:
    """Merge the dates that the filter names, so that no day counts twice."""
    ranges = [v for c in cohort.conditions if c.key == "revised" for v in c.values if isinstance(v, Range)]
    windows = sorted((_day(one.lower or date.min), _day(one.upper or date.max)) for one in ranges)
    merged: list[Days] = []
    for first, last in windows:
        if merged and first <= merged[-1][1] + 1:
            merged[-1] = (merged[-1][0], max(merged[-1][1], last))
        else:
            merged.append((first, last))
    return merged


def _day(day: object) -> int:
    assert isinstance(day, date)
    return (day - _EPOCH).days


def _days_in(counts: DatedCounts, window: Days, outcomes: tuple[str, ...]) -> int:
    first, last = window
    if not len(counts.joints):
        return 0
    first = max(first, int(counts.implanted.min()) - 1)
    last = min(last, int((counts.implanted + counts.day).max()))
    if first > last:
        return 0
    return int(calendar_table(counts, (first - 1, last), ("period",), outcomes).of(0).implant_days)
