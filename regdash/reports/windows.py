"""Revision rates by time since implantation."""

import numpy as np

from regdash.reports.counted import Counted
from regdash.reports.model import RateRow
from regdash.reports.policy import Policy
from regdash.reports.rates import rate_row
from regdash.stats.events import GroupCounts
from regdash.stats.years import days_in

EDGES = (0, 1, 5, 10)  # years since implantation


def window_rows(policy: Policy, counted: Counted) -> tuple[RateRow, ...]:
    """Write a line for each group and window; `joints` are those whose follow-up reached into the window."""
    rows = []
    for number, group in enumerate(counted.groups):
        counts = counted.table.of(number)
        for start, stop in zip(EDGES, (*EDGES[1:], None)):
            label = f"{group.label}, {start}–{stop} years" if stop else f"{group.label}, {start} years and later"
            rows.append(rate_row(policy, label, *_within(counts, start, stop)))
    return tuple(rows)


def _within(counts: GroupCounts, start: int, stop: int | None) -> tuple[int, int, int]:
    """
    Count joints, days and revisions in (start, stop]; the first window holds day 0 too.

    Source:
        (start, stop] is the counting-process convention; an event on a cut belongs to the earlier interval.
    """
    first = days_in(start) if start else -1
    last = days_in(stop) if stop else int(counts.days.max(initial=0))
    reached = counts.days > first
    inside = reached & (counts.days <= last)
    spent = np.minimum(counts.days[reached], last) - max(first, 0)
    return int(counts.left[reached].sum()), int(spent @ counts.left[reached]), int(counts.revised[inside].sum())
