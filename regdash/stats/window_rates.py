"""Rates in windows: since implantation, where a hazard changes most, or of the calendar."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from regdash.errors import CountError
from regdash.stats.counts import whole_numbers
from regdash.stats.events import CENSORED, Entries, EventTable, GroupCounts
from regdash.stats.poisson import RevisionRate, revision_rate
from regdash.stats.years import years_in


@dataclass(frozen=True)
class WindowRate:
    """The rate between two days since implantation: after start, up to and including stop; the first from day 0 on."""

    start: int
    stop: int | None  # None: as long as anybody is followed
    joints: int  # joints in follow-up in this window, for however short
    rate: RevisionRate


def rates_since_implantation(
    counts: GroupCounts, cuts: Sequence[int], level: float = 0.95, mid_p: bool = False
) -> tuple[WindowRate, ...]:
    """
    Find the rate in each window since implantation. Revisions and implant-years add up to those of the whole.

    A revision on a cut belongs to the earlier window, one on day 0 to the first.

    Args:
        counts: of one group, late entries included.
        cuts: whole days, rising, from 1 up; windows are one more than cuts.
        level, mid_p: as `revision_rate`.

    Raises:
        CountError: cuts that are not whole days or do not rise.

    >>> table = EventTable((("all",),), ("censored", "died", "wear"), [0, 0], [90, 400], [2, 0], [1, 4])
    >>> [(one.joints, one.rate.revised, one.rate.years * 365.25) for one in rates_since_implantation(table.of(0), [90])]
    [(5, 1, 450.0), (4, 0, 1240.0)]
    """
    edges = whole_numbers("cuts", cuts)
    if np.any(np.diff(edges, prepend=0) <= 0):
        raise CountError(f"Windows are cut after whole days that rise, from day 1 up, not after {list(cuts)}.")
    entered = np.zeros_like(counts.left) if counts.entered is None else counts.entered
    starts, stops = [0, *edges.tolist()], [*edges.tolist(), None]
    return tuple(_in_window(counts, entered, *window, level, mid_p) for window in zip(starts, stops, strict=True))


def _in_window(
    counts: GroupCounts, entered: np.ndarray, start: int, stop: int | None, level: float, mid_p: bool
) -> WindowRate:
    reached = counts.days > start if start else np.ones(len(counts.days), dtype=bool)
    within = reached if stop is None else reached & (counts.days <= stop)
    later = 0 if stop is None else int(entered[counts.days >= stop].sum())
    days = int(np.clip(counts.days - start, 0, None if stop is None else stop - start) @ (counts.left - entered))
    rate = revision_rate(int(counts.revised[within].sum()), years_in(float(days)), level, mid_p)
    return WindowRate(start, stop, int(counts.left[reached].sum()) - later, rate)


@dataclass(frozen=True, eq=False)
class DatedCounts:
    """
    Joints by date of implantation, days followed and outcome: what calendar windows need beyond an event table.

    Dates are whole numbers of days since any fixed date, the same for implantation and for the windows' cuts.
    """

    implanted: np.ndarray  # (r,) int, date of implantation
    day: np.ndarray  # (r,) int, whole days since implantation on which follow-up ended
    outcome: np.ndarray  # (r,) int, how, numbered as the outcomes of an event table
    joints: np.ndarray  # (r,) int, how many


def calendar_table(
    counts: DatedCounts, cuts: Sequence[int], labels: Sequence[str], outcomes: Sequence[str]
) -> EventTable:
    """
    Cut follow-up at dates. The groups are the windows; the clock stays days since implantation.

    A window runs from the day after one cut up to and including the next; what happened on a cut belongs to the
    earlier window. A joint is in each window that it is followed in: it enters late where it was implanted
    earlier, and is censored on the window's last day where it is followed longer. Joints implanted within a
    window have no entry there, and are followed from before day 0.

    Args:
        cuts: dates, rising, one more than labels.
        outcomes: labels as those of `EventTable`.

    Raises:
        CountError: cuts that do not rise, too few or too many of them, or counts that are none.
    """
    edges = whole_numbers("cuts", cuts)
    if not labels or len(edges) != len(labels) + 1 or np.any(np.diff(edges) <= 0):
        raise CountError(f"{len(labels)} calendar windows need {len(labels) + 1} dates that rise, not {list(cuts)}.")
    names = ("dates of implantation", "days", "outcome numbers", "counts")
    given = (counts.implanted, counts.day, counts.outcome, counts.joints)
    implanted, day, outcome, joints = (whole_numbers(name, values) for name, values in zip(names, given, strict=True))
    rows, entries = [], []
    for number, (after, last) in enumerate(pairwise(edges.tolist())):
        inside = (implanted <= last) & ((implanted > after) | (implanted + day > after))
        until = last - implanted[inside]
        ended = np.where(day[inside] <= until, outcome[inside], CENSORED)
        rows.append((np.full(len(until), number), np.minimum(day[inside], until), ended, joints[inside]))
        late = inside & (implanted <= after)
        entries.append((np.full(int(late.sum()), number), after - implanted[late], joints[late]))
    group, last_day, how, many = (np.concatenate(column) for column in zip(*rows, strict=True))
    entering = Entries(*(np.concatenate(column) for column in zip(*entries, strict=True)))
    return EventTable(tuple((label,) for label in labels), tuple(outcomes), group, last_day, how, many, entering)


def calendar_rates(table: EventTable, level: float = 0.95, mid_p: bool = False) -> tuple[RevisionRate, ...]:
    """
    Find the rate of each group of a table with entries, such as `calendar_table` makes, or a query that counts alike.

    Windows since implantation within one of the calendar: `rates_since_implantation` of that group.

    >>> dated = DatedCounts(np.array([100]), np.array([50]), np.array([2]), np.array([1]))
    >>> table = calendar_table(dated, [90, 120, 150], ["first", "second"], ("censored", "died", "wear"))
    >>> [(rate.revised, round(rate.years * 365.25)) for rate in calendar_rates(table)]
    [(0, 20), (1, 30)]
    """
    groups = [table.of(number) for number in range(len(table.groups))]
    return tuple(
        revision_rate(int(group.revised.sum()), years_in(float(group.implant_days)), level, mid_p) for group in groups
    )
