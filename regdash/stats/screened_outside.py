"""Hazard ratios of many units that are in nobody's comparison group, each against one and the same body of others."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from regdash.errors import CountError, ModelError
from regdash.stats.counts import whole_numbers
from regdash.stats.cox_counts import PatternCounts
from regdash.stats.partial_likelihood import Ties
from regdash.stats.products import product
from regdash.stats.risk_shares import Block, Counted, ScreenedRatio, Shares, window_ratios
from regdash.stats.screened import Body, OwnRows, places_of
from regdash.stats.stated_ratio import checked_ratio
from regdash.stats.unit_rows import UnitRows, window_of


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
    nobody = np.zeros(others.patterns, dtype=np.int64)
    outside = OutsideUnits(Body(UnitRows.of(others, nobody, 0), ties), UnitRows.of(counts, unit, len(names)))
    (found,) = window_ratios(
        outside.blocks(), outside.counted, np.ones((1, len(names)), dtype=bool), names, level, stated
    )
    return tuple(one for one in found if one is not None)


class OutsideUnits:
    """Units that are each compared with one body of others; windows as those of `ScreenedUnits`."""

    def __init__(self, body: Body, own: UnitRows) -> None:
        self.body, self.own = body, own

    @cached_property
    def counted(self) -> Counted:
        """What each unit has in each window; a window has events where the others have some."""
        return self.own.counted(self.body.seen)

    def blocks(self) -> Iterator[Block]:
        """Give some units at a time."""
        body, cells, events = self.body, self.body.cells, self.body.cells.events
        if not len(cells):
            return
        placed = self.own.only(self.own.stratum < body.strata)
        rows = OwnRows(placed, places_of(cells, placed.stratum.astype(np.int32, copy=False), placed.day), cells.places)
        days = _own_days(self.own, body)
        of_window = body.in_window.astype(float)
        for first in range(0, self.own.units, body.step):
            size = min(body.step, self.own.units - first)
            own = cells.remaining_by_row(rows.by_place(first, size))
            some = days.of_units(first, size)
            own[some.unit[some.cell >= 0], some.cell[some.cell >= 0]] = 0  # these days are the units' own
            expected = product(own * events / (body.at_risk + own), of_window)
            expected += some.expected_in_windows(size, of_window.shape[1])
            among = own.take(body.term_cell, axis=1)
            among /= body.denominator + among
            inside = enumerate(body.in_windows(among))
            yield Block(first, tuple(_beside(one, some, number, size) for number, one in inside), expected)


@dataclass(frozen=True, eq=False)
class _Days:
    """The days on which units have events themselves: denominators that others have not, or not so."""

    unit: np.ndarray  # (e,) rising
    cell: np.ndarray  # (e,) the others' event cell on that day; -1 where they have none
    window: np.ndarray  # (e,) window of that day; from 1, or 0 where there is one window
    expected: np.ndarray  # (e,) events, were they shared out as those at risk are
    of: np.ndarray  # (t,) rising, the unit of each denominator of these days
    of_window: np.ndarray  # (t,) its window
    share: np.ndarray  # (t,) and its share

    def of_units(self, first: int, size: int) -> "_Days":
        """Those of some units, numbered from 0."""
        days = slice(*np.searchsorted(self.unit, [first, first + size]))
        terms = slice(*np.searchsorted(self.of, [first, first + size]))
        return _Days(
            self.unit[days] - first,
            self.cell[days],
            self.window[days],
            self.expected[days],
            self.of[terms] - first,
            self.of_window[terms],
            self.share[terms],
        )

    def expected_in_windows(self, size: int, windows: int) -> np.ndarray:
        """(size, windows) expected events."""
        found = np.bincount(self.unit * windows + self.window, self.expected, size * windows).reshape(size, windows)
        if windows > 1:
            found[:, 0] = found.sum(axis=1)
        return found

    def padded(self, window: int, size: int) -> np.ndarray:
        """(size, widest) the shares of the denominators in one window, 0 after the last; window 0 is all of them."""
        there = slice(None) if window == 0 else self.of_window == window
        row, share = self.of[there], self.share[there]
        starts = np.searchsorted(row, np.arange(size))
        padded = np.zeros((size, int(np.bincount(row, minlength=size).max(initial=0))))
        padded[row, np.arange(len(row)) - starts[row]] = share
        return padded


def _beside(shares: Shares, days: _Days, window: int, size: int) -> Shares:
    more = days.padded(window, size)
    times = None if shares.times is None else np.concatenate([shares.times, np.ones(more.shape[1])])
    return Shares(np.concatenate([shares.of, more], axis=1), times)


def _own_days(own: UnitRows, body: Body) -> _Days:
    others = body.rows
    strata = max(body.strata, int(own.stratum.max(initial=0)) + 1)
    span = int(max(others.day.max(initial=0), own.day.max(initial=0))) + 2
    at_risk, tied_others = _by_day(others, strata, span)
    part = own.unit * np.int64(strata) + own.stratum
    # Joints of parts without an event of their own are in no denominator of this kind.
    there = np.bincount(part[own.event], minlength=own.units * strata)[part] > 0
    key = part[there] * span + own.day[there]
    order = np.argsort(key, kind="stable")
    weights = np.ones(len(order)) if own.joints is None else own.joints[there][order]
    key, running = key[order], np.insert(np.cumsum(weights), 0, 0)
    hit = own.event[there][order]
    at, tied = np.unique(key[hit], return_inverse=True)
    own_tied = np.bincount(tied, weights[hit], len(at))
    of_part, day = np.divmod(at, span)
    own_at_risk = running[np.searchsorted(key, (of_part + 1) * span)] - running[np.searchsorted(key, at)]
    unit, stratum = np.divmod(of_part, strata)
    where = stratum * span + day
    of_cells = body.cells.stratum * span + body.cells.day
    cell = np.minimum(np.searchsorted(of_cells, where), len(of_cells) - 1)
    cell = np.where(of_cells[cell] == where, cell, -1)
    events, everybody = own_tied + tied_others[where], own_at_risk + at_risk[where]
    size = events.astype(np.int64)
    row = np.repeat(np.arange(len(at)), size)
    off = np.zeros(len(row))
    if body.ties == "efron":
        off = (np.arange(len(row)) - np.repeat(np.cumsum(size) - size, size)) / events[row]
    share = (own_at_risk[row] - off * own_tied[row]) / (everybody[row] - off * events[row])
    window = window_of(day, body.cuts) + (body.windows > 1)
    return _Days(unit, cell, window, own_at_risk * events / everybody, unit[row], window[row], share)


def _by_day(rows: UnitRows, strata: int, span: int) -> tuple[np.ndarray, np.ndarray]:
    """(strata × days,) joints in follow-up on each day of each stratum, and those with the event."""
    key = rows.stratum * np.int64(span) + rows.day
    hit, once = rows.event, rows.once
    left = np.bincount(key, once, strata * span).reshape(strata, span)
    tied = np.bincount(key[hit], None if once is None else once[hit], strata * span)
    return np.cumsum(left[:, ::-1], axis=1)[:, ::-1].astype(float).reshape(-1), tied.astype(float)
