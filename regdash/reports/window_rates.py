"""Revision rates in windows: since implantation, of the calendar, or of both."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import pairwise

import numpy as np

from regdash.endpoints import REVISION_CLOCK
from regdash.errors import FilterError
from regdash.reports.counted import Counted
from regdash.reports.policy import Policy
from regdash.reports.rates import shown_rate
from regdash.reports.window_row import WindowRateRow
from regdash.stats.events import EventTable
from regdash.stats.window_rates import DatedCounts, calendar_table, rates_since_implantation
from regdash.stats.years import days_in
from regdash.store.dated_counts import count_dated
from regdash.store.event_counts import GroupExpressions

_EPOCH = date(1970, 1, 1)


@dataclass(frozen=True)
class Dates:
    """A window of the calendar, both days in it; None: as early, or as late, as anybody is followed."""

    first: str | None = None
    last: str | None = None


def windowed_rows(
    policy: Policy, counted: Counted, windows: Sequence[float], calendar: Sequence[int]
) -> tuple[WindowRateRow, ...]:
    """
    Write a line for each group, window of the calendar and window since implantation.

    Args:
        windows: years since implantation at which one window ends and the next begins, rising.
        calendar: years at whose beginning one window of the calendar ends and the next begins, rising.

    Raises:
        FilterError: years of the calendar that do not rise or in which nobody is followed, or an endpoint whose clock
            does not start at implantation.
    """
    cuts = [days_in(years) for years in windows]
    edges = list(zip((0.0, *windows), (*windows, None)))
    rows = []
    for label, dates, table, number in _parts(counted, calendar):
        for (start, stop), found in zip(edges, rates_since_implantation(table.of(number), cuts, policy.level)):
            shown = shown_rate(policy, found.joints, found.rate)
            rows.append(WindowRateRow(label, start, stop, dates.first, dates.last, *shown))
    return tuple(rows)


def _parts(counted: Counted, calendar: Sequence[int]) -> list[tuple[str, Dates, EventTable, int]]:
    """Each group, or each window of the calendar in it: its label, dates, table and number there."""
    if not calendar:
        return [(group.label, Dates(), counted.table, n) for n, group in enumerate(counted.groups)]
    if counted.endpoint.clock == REVISION_CLOCK:
        raise FilterError("Calendar windows need a clock that starts at implantation. Choose another endpoint.")
    by = GroupExpressions(tuple(grouping.sql() for grouping in counted.by))
    dated = count_dated(counted.cut, counted.predicate, by, counted.numbers, counted.endpoint)
    edges, dates = _edges(dated, calendar)
    labels = [str(place) for place in range(len(dates))]
    parts = []
    for group, counts in zip(counted.groups, dated):
        table = calendar_table(counts, edges, labels, counted.table.outcomes)
        parts += [(group.label, each, table, number) for number, each in enumerate(dates)]
    return parts


def _edges(dated: Sequence[DatedCounts], calendar: Sequence[int]) -> tuple[list[int], list[Dates]]:
    """The days after which windows begin, from before the first implantation to the last day of follow-up."""
    if any(one >= other for one, other in pairwise(calendar)):
        said = ",".join(map(str, calendar))
        raise FilterError(f"Calendar years {said} do not rise. Write the years at whose beginning it is cut: 2010,2015")
    implanted = np.concatenate([counts.implanted for counts in dated]) if dated else np.zeros(0, dtype=np.int64)
    if not len(implanted):
        return [-1, *range(len(calendar) + 1)], _dates(calendar)
    ends = np.concatenate([counts.implanted + counts.day for counts in dated])
    before, last = int(implanted.min()) - 1, int(ends.max())
    cuts = [(date(year, 1, 1) - _EPOCH).days - 1 for year in calendar]
    if cuts[0] <= before or cuts[-1] >= last:
        first, end = (_EPOCH + timedelta(days=day) for day in (before + 1, last))
        raise FilterError(
            f"These joints are followed from {first} to {end}. Cut the calendar at years that begin between, as in "
            f"{min(first.year + 1, end.year)}."
        )
    return [before, *cuts, last], _dates(calendar)


def _dates(calendar: Sequence[int]) -> list[Dates]:
    firsts = [f"{year}-01-01" for year in calendar]
    lasts = [f"{year - 1}-12-31" for year in calendar]
    return [Dates(first, last) for first, last in zip((None, *firsts), (*lasts, None))]
