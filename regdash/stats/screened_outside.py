"""Hazard ratios of many units that are in nobody's comparison group, each against one and the same body of others."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from regdash.errors import CountError, ModelError
from regdash.stats.counts import whole_numbers
from regdash.stats.cox_counts import PatternCounts
from regdash.stats.event_cells import Cells, event_cells
from regdash.stats.partial_likelihood import Terms, Ties
from regdash.stats.screened import ByUnit, ScreenedRatio, Shares
from regdash.stats.stated_ratio import checked_ratio

_BLOCK = 2**19  # shares of risk sets, units × denominators, held at one time


def outside_hazard_ratios(
    others: PatternCounts,
    counts: PatternCounts,
    unit: np.ndarray,
    names: Sequence[str],
    ties: Ties = "efron",
    level: float = 0.95,
    stated: float = 1.0,
) -> tuple[ScreenedRatio, ...]:
    """
    Estimate, for every unit, its hazard ratio against others that no unit is part of.

    Each is what `screened_hazard_ratios` gives of the unit's joints and the others alone.

    Args:
        others: joints by stratum, day and event.
        counts: joints of the units by pattern, day and event; a pattern is a unit within a stratum.
        unit: (patterns,) int, the unit of each pattern.
        names, ties, level, stated: as `screened_hazard_ratios`.

    Returns:
        One a unit, in the order of names.

    Raises:
        CountError: not one unit a pattern, a unit without a name, or joints that enter late.
        ModelError: no events of the others.
        ValueError: a level or a stated ratio that is none.

    >>> others = PatternCounts(1, [0, 0, 0], [1, 5, 9], [1, 1, 0], [2, 1, 3])
    >>> units = PatternCounts(2, [0, 1, 0], [4, 9, 9], [1, 0, 0], [1, 3, 2])
    >>> [one.ratio.ratio and round(one.ratio.ratio, 4) for one in outside_hazard_ratios(others, units, [0, 1], "AB")]
    [0.5716, None]
    """
    checked_ratio(stated)
    unit = whole_numbers("units", unit)
    if len(unit) != counts.patterns or np.any(unit >= len(names)):
        raise CountError(f"Each of {counts.patterns:,} patterns needs a unit from 0 to {len(names) - 1}.")
    if others.entered is not None or counts.entered is not None:
        raise CountError("Joints that enter late cannot be compared so; give those of each unit to the other screen.")
    if not others.events:
        raise ModelError(f"None of {int(others.weights.sum()):,} others has the event: there is nothing to compare.")
    body, own = _Others(others), _Own(counts, unit, len(names))
    joints, events = own.joints.tolist(), own.events
    found: list[ScreenedRatio] = []
    for first, shares, expected in _blocks(body, own, ties):
        block = slice(first, first + len(shares.of))
        found += shares.ratios(events[block], joints[block], expected, names[block], level, stated)
    return tuple(found)


class _Others:
    """Who is at risk and has the event, among those that all units are compared with, on every day of every stratum."""

    def __init__(self, counts: PatternCounts) -> None:
        self.labels, stratum = counts.numbered_strata
        self.strata, self.span = len(self.labels), int(counts.day.max(initial=0)) + 2
        key = stratum[counts.pattern] * self.span + counts.day
        left = np.bincount(key, counts.joints, self.strata * self.span).reshape(self.strata, self.span)
        self.at_risk = np.cumsum(left[:, ::-1], axis=1)[:, ::-1]
        hit = np.flatnonzero(counts.event)
        weights = counts.weights[hit].astype(float)
        self.tied = np.bincount(key[hit], weights, self.strata * self.span).reshape(self.strata, self.span)
        self.cells: Cells = event_cells(stratum[counts.pattern[hit]], counts.day[hit], weights, self.strata)[0]


@dataclass(frozen=True, eq=False)
class _Own:
    """The joints of the units."""

    counts: PatternCounts
    unit: np.ndarray  # (patterns,)
    units: int

    @cached_property
    def joints(self) -> np.ndarray:
        """(units,) their joints."""
        return np.bincount(self.unit, self.counts.by_pattern(), self.units).astype(np.int64)

    @cached_property
    def events(self) -> np.ndarray:
        """(units,) and those with the event."""
        return np.bincount(self.unit, self.counts.events_by_pattern(), self.units).astype(np.int64)


@dataclass(frozen=True, eq=False)
class _Days:
    """The days on which a unit has events itself: denominators that others have not, or not so."""

    unit: np.ndarray  # (e,) rising
    cell: np.ndarray  # (e,) the others' event cell on that day; -1 where they have none
    expected: np.ndarray  # (e,) events, were they shared out as those at risk are
    of: np.ndarray  # (t,) rising, the unit of each denominator of these days
    share: np.ndarray  # (t,) and its share


def _blocks(body: _Others, own: _Own, ties: Ties) -> Iterator[tuple[int, Shares, np.ndarray]]:
    """Give some units at a time: the first one's number, their shares, and their expected events."""
    cells, terms = body.cells, Terms.of(body.cells.events, ties)
    at_risk = body.at_risk[cells.stratum, cells.day]
    denominator = at_risk[terms.cell] - terms.share * cells.events[terms.cell]
    stratum, there = _numbered(own.counts, body.labels)
    pattern, day = own.counts.pattern[there], own.counts.day[there]
    joints = None if own.counts.joints is None else own.counts.joints[there].astype(float)
    rows = ByUnit.by_unit(own.unit[pattern], own.units, cells.places_of(stratum[there], day), joints)
    days = _own_days(body, own, ties)
    most = int(np.bincount(days.of).max(initial=0))
    step = max(1, _BLOCK // max(len(terms.cell) + most, 1))
    for first in range(0, own.units, step):
        size = min(step, own.units - first)
        there_too = cells.remaining_by_row(rows.summed(first, size, cells.places))
        some = slice(*np.searchsorted(days.unit, [first, first + size]))
        replaced = (days.unit[some] - first)[days.cell[some] >= 0], days.cell[some][days.cell[some] >= 0]
        of_cell = np.ones_like(there_too)
        of_cell[replaced] = 0
        expected = (there_too * of_cell * cells.events / (at_risk + there_too)).sum(axis=1)
        expected += np.bincount(days.unit[some] - first, days.expected[some], size)
        among = there_too[:, terms.cell]
        shares = among / (denominator + among) * of_cell[:, terms.cell]
        more = _padded(days, first, size)
        times = np.concatenate([terms.times, np.ones(more.shape[1])])
        yield first, Shares(np.concatenate([shares, more], axis=1), times), expected


def _numbered(counts: PatternCounts, labels: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """(r,) the others' number of each row's stratum; and (r,) bool where they have it."""
    place = np.minimum(np.searchsorted(labels, counts.strata), len(labels) - 1)
    known = labels[place] == counts.strata
    return place[counts.pattern], known[counts.pattern]


def _own_days(body: _Others, own: _Own, ties: Ties) -> _Days:
    counts = own.counts
    span = max(body.span, int(counts.day.max(initial=0)) + 2)
    labels, stratum = counts.numbered_strata
    key = (own.unit[counts.pattern] * len(labels) + stratum[counts.pattern]) * span + counts.day
    order = np.argsort(key, kind="stable")
    weights = counts.weights[order].astype(float)
    key, running = key[order], np.insert(np.cumsum(weights), 0, 0)
    hit = counts.event[order] > 0
    at, tied = np.unique(key[hit], return_inverse=True)
    own_tied = np.bincount(tied, weights[hit], len(at))
    part, day = np.divmod(at, span)
    after = running[np.searchsorted(key, (part + 1) * span)]
    own_at_risk = after - running[np.searchsorted(key, at)]
    unit, number = np.divmod(part, len(labels))
    place = np.minimum(np.searchsorted(body.labels, labels[number]), body.strata - 1)
    known = (body.labels[place] == labels[number]) & (day < body.span)
    within = np.where(known, day, 0)
    others = np.where(known, body.at_risk[place, within], 0.0)
    others_tied = np.where(known, body.tied[place, within], 0.0)
    of_cells = body.cells.stratum * body.span + body.cells.day
    cell = np.minimum(np.searchsorted(of_cells, place * body.span + within), len(of_cells) - 1)
    cell = np.where(known & (of_cells[cell] == place * body.span + within), cell, -1)
    events = own_tied + others_tied
    size = events.astype(np.int64)
    row = np.repeat(np.arange(len(at)), size)
    off = np.zeros(len(row))
    if ties == "efron":
        off = (np.arange(len(row)) - np.repeat(np.cumsum(size) - size, size)) / events[row]
    share = (own_at_risk[row] - off * own_tied[row]) / ((own_at_risk + others)[row] - off * events[row])
    return _Days(unit, cell, own_at_risk * events / (own_at_risk + others), unit[row], share)


def _padded(days: _Days, first: int, size: int) -> np.ndarray:
    """(size, widest) the shares of the denominators of units' own days, 0 after the last."""
    some = slice(*np.searchsorted(days.of, [first, first + size]))
    row, share = days.of[some] - first, days.share[some]
    starts = np.searchsorted(row, np.arange(size))
    padded = np.zeros((size, int(np.bincount(row, minlength=size).max(initial=0))))
    padded[row, np.arange(len(row)) - starts[row]] = share
    return padded
