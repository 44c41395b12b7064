"""Many units at once: each implant's hazard ratio against all others of its stratum, by one coefficient each."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from regdash.errors import CountError, ModelError
from regdash.stats.counts import whole_numbers
from regdash.stats.cox_counts import PatternCounts
from regdash.stats.event_cells import Cells, event_cells
from regdash.stats.partial_likelihood import Terms, Ties
from regdash.stats.products import product
from regdash.stats.risk_shares import BLOCK, Block, Counted, ScreenedRatio, Shares, window_ratios
from regdash.stats.stated_ratio import checked_ratio
from regdash.stats.unit_rows import UnitRows, window_of


def screened_hazard_ratios(
    counts: PatternCounts,
    unit: np.ndarray,
    names: Sequence[str],
    ties: Ties = "efron",
    level: float = 0.95,
    stated: float = 1.0,
) -> tuple[ScreenedRatio, ...]:
    """
    Estimate, for every unit, its hazard ratio against all others, each stratum with a baseline of its own.

    Each is what `cox` gives for a model with one column that is 1 for the unit's joints, and the same strata.

    Args:
        counts: joints by pattern, day and event; a pattern is a unit within a stratum.
        unit: (patterns,) int, the unit of each pattern.
        names: of the units.
        level: of the two-sided Wald limits.
        stated: the ratio that `p_higher` tests against; it needs no top of the likelihood, see `events_p_above`.

    Returns:
        One a unit, in the order of names. A ratio is None where its likelihood has no top, and its note says why.

    Raises:
        CountError: not one unit a pattern, or a unit without a name.
        ModelError: no events.
        ValueError: a level or a stated ratio that is none.

    >>> counts = PatternCounts(2, [0, 1, 0, 1], [1, 1, 9, 9], [1, 1, 0, 0], [1, 3, 4, 2])  # of 5 and 5, 1 and 3
    >>> [round(one.ratio.ratio, 6) for one in screened_hazard_ratios(counts, [0, 1], ["A", "B"], "breslow")]
    [0.333333, 3.0]
    """
    checked_ratio(stated)
    unit = whole_numbers("units", unit)
    if len(unit) != counts.patterns or np.any(unit >= len(names)):
        raise CountError(f"Each of {counts.patterns:,} patterns needs a unit from 0 to {len(names) - 1}.")
    if not counts.events:
        raise ModelError(f"None of {int(counts.weights.sum()):,} joints has the event: there is no ratio to estimate.")
    screened = ScreenedUnits(UnitRows.of(counts, unit, len(names)), ties)
    (found,) = window_ratios(
        screened.blocks(), screened.counted, np.ones((1, len(names)), dtype=bool), names, level, stated
    )
    return tuple(one for one in found if one is not None)


class ScreenedUnits:
    """
    Units that are each compared with all others.

    Windows share their risk sets: whoever is at risk on a day is so in the window that holds it. Each denominator is
    therefore made once, and a window is a slice of them.
    """

    def __init__(self, rows: UnitRows, ties: Ties = "efron") -> None:
        self.rows, self.ties = rows, ties

    @cached_property
    def counted(self) -> Counted:
        """What each unit has in each window."""
        return self.rows.counted(self.body.seen)

    @cached_property
    def body(self) -> "Body":
        """All of them together."""
        return Body(self.rows, self.ties)

    def blocks(self) -> Iterator[Block]:
        """Give some units at a time."""
        body = self.body
        if not len(body.cells):
            return
        rows = OwnRows(self.rows, body.place, body.cells.places)
        tied = _Tied.of(self.rows, body)
        for first in range(0, self.rows.units, body.step):
            size = min(body.step, self.rows.units - first)
            own = body.cells.remaining_by_row(rows.by_place(first, size))
            expected = body.expected(own)
            shares = own if body.plain else own.take(body.term_cell, axis=1)
            tied.take_off(shares, first, body.terms.share)
            shares /= body.denominator
            yield Block(first, body.in_windows(shares), expected)


class Body:
    """The event cells of those who are compared, and the denominators of their likelihood, window by window."""

    def __init__(self, rows: UnitRows, ties: Ties) -> None:
        self.rows, self.ties, self.cuts, self.windows = rows, ties, rows.cuts, rows.windows
        hit = np.flatnonzero(rows.event)
        once = rows.once
        joints = np.ones(len(hit)) if once is None else once[hit]
        counted = joints > 0
        hit, joints = hit[counted], joints[counted]
        stratum = rows.stratum.astype(np.int32, copy=False)
        self.strata = int(stratum.max(initial=0)) + 1
        self.cells, _ = event_cells(stratum[hit], rows.day[hit].astype(np.int64), joints, self.strata)
        self.place = places_of(self.cells, stratum, rows.day)
        by_place = np.bincount(self.place, once, self.cells.places)
        self.at_risk = self.cells.remaining_by_row(by_place[None, :])[0]
        window = window_of(self.cells.day, self.cuts)
        self.order = np.argsort(window, kind="stable")
        self.terms = Terms.of(self.cells.events[self.order], ties)
        self.term_cell = self.order[self.terms.cell]
        self.plain = len(self.term_cell) == len(self.order) and bool(np.all(np.diff(self.order) > 0))
        self.starts = np.empty(len(self.order), dtype=np.int64)  # of each cell, its first denominator
        self.starts[self.order] = self.terms.starts
        self.denominator = self.at_risk[self.term_cell] - self.terms.share * self.cells.events[self.term_cell]
        self.times = None if ties == "efron" else self.terms.times
        self._edges = np.searchsorted(window[self.term_cell], np.arange(self.windows)).tolist()
        self.in_window = np.ones((len(self.cells), self.windows), dtype=bool)
        if self.windows > 1:
            self.in_window[:, 1:] = window[:, None] == np.arange(self.windows - 1)

    @property
    def seen(self) -> np.ndarray:
        """(windows,) bool: somebody has the event in the window."""
        return np.count_nonzero(self.in_window, axis=0) > 0

    @property
    def step(self) -> int:
        """How many units are done at a time."""
        return max(1, BLOCK // max(len(self.term_cell), 1))

    @property
    def slices(self) -> list[slice]:
        """The denominators of each window."""
        if self.windows == 1:
            return [slice(None)]
        return [slice(None), *(slice(first, end) for first, end in zip(self._edges, self._edges[1:], strict=False))]

    def in_windows(self, shares: np.ndarray) -> tuple[Shares, ...]:
        """Slice (units, q) shares by window."""
        return tuple(Shares(shares[:, part], None if self.times is None else self.times[part]) for part in self.slices)

    def expected(self, own: np.ndarray) -> np.ndarray:
        """(units, windows) events at the hazard of everybody, given (units, cells) at risk."""
        return product(own, self.in_window * (self.cells.events / np.maximum(self.at_risk, 1e-300))[:, None])


def places_of(cells: Cells, stratum: np.ndarray, day: np.ndarray) -> np.ndarray:
    """(r,) the place of each joint among the cells, as `Cells.places_of`, in narrow numbers."""
    span = int(cells.day.max(initial=0)) + 1
    if cells.strata * span > 2**22 + 4 * len(day):
        return cells.places_of(stratum.astype(np.int64), day.astype(np.int64))
    own = cells.stratum * span + cells.day
    table = np.cumsum(np.bincount(own, minlength=cells.strata * span)).astype(np.int32)
    table += np.repeat(np.arange(cells.strata, dtype=np.int32), span)
    key = np.minimum(day, span - 1).astype(np.int32, copy=False)
    key += stratum * np.int32(span)
    return table[key]


@dataclass(frozen=True, eq=False)
class OwnRows:
    """The joints of units, and where each leaves among the event cells."""

    rows: UnitRows
    place: np.ndarray  # (r,)
    places: int

    @cached_property
    def _bounds(self) -> np.ndarray:
        return np.searchsorted(self.rows.unit[self.rows.own], np.arange(self.rows.units + 1))

    def by_place(self, first: int, size: int) -> np.ndarray:
        """(size, places) joints of some units by place."""
        some = slice(self._bounds[first], self._bounds[first + size])
        where = (self.rows.unit[some] - first).astype(np.intp)
        where *= self.places
        where += self.place[some]
        joints = None if self.rows.joints is None else self.rows.joints[some]
        return np.bincount(where, joints, size * self.places).reshape(size, self.places)


@dataclass(frozen=True, eq=False)
class _Tied:
    """Each joint of the units with the event, once for each denominator that has less of it than all."""

    unit: np.ndarray  # (t,) rising
    term: np.ndarray  # (t,) the denominator
    joints: np.ndarray  # (t,)

    @classmethod
    def of(cls, rows: UnitRows, body: "Body") -> "_Tied":
        hit = np.flatnonzero(rows.event[rows.own])
        joints = np.ones(len(hit)) if rows.joints is None else rows.joints[hit]
        hit, joints = hit[joints > 0], joints[joints > 0]
        cell = body.place[hit] - rows.stratum[hit].astype(np.int64) - 1  # the place of an event follows its cell
        more = np.zeros(len(hit), dtype=np.int64)
        if len(body.terms.cell) > len(body.terms.starts):
            more = body.cells.events[cell].astype(np.int64) - 1
        row = np.repeat(np.arange(len(more)), more)
        nth = 1 + np.arange(len(row)) - np.repeat(np.cumsum(more) - more, more)
        return cls(rows.unit[hit[row]].astype(np.int64), body.starts[cell[row]] + nth, joints[row])

    def take_off(self, shares: np.ndarray, first: int, share: np.ndarray) -> None:
        """Take from (units, q) joints at risk those with the event, as far as (q,) share says of each denominator."""
        some = slice(*np.searchsorted(self.unit, [first, first + len(shares)]))
        if some.stop > some.start:
            where = (self.unit[some] - first) * shares.shape[1] + self.term[some]
            np.subtract.at(shares.reshape(-1), where, share[self.term[some]] * self.joints[some])
