"""Who is at risk and who has the event, in every event cell. A partial likelihood needs sums over these alone."""

from dataclasses import dataclass

import numpy as np

from regdash.stats.cox_counts import PatternCounts
from regdash.stats.event_cells import Cells, event_cells
from regdash.stats.incidence import AtRisk, Dense, Events, Incidence

_MANY = 20_000  # rows that are too many to go through for every step
_DENSE = 2**21  # numbers in a plain matrix: up to here multiplying it beats going through the rows
_ROUGH_CELLS = 48  # enough to come within a thousandth of the truth


@dataclass(frozen=True, eq=False)
class RiskSets:
    """Event cells, and who is at risk and has the event in each."""

    cells: Cells
    at_risk: Incidence
    events: Events
    rows: AtRisk  # the same as at_risk, row by row: those of the counts in their order, then their entries

    @property
    def is_dense(self) -> bool:
        """Whether the joints at risk are a plain matrix."""
        return isinstance(self.at_risk, Dense)

    @property
    def worth_thinning(self) -> bool:
        """Whether so many rows stand for so few patterns and strata that merging cells saves time."""
        small = self.events.patterns * 2 * self.cells.strata <= 4 * _DENSE
        return not self.is_dense and small and len(self.rows.pattern) >= _MANY


def risk_sets(counts: PatternCounts) -> RiskSets:
    """
    Find the cells (stratum × day with an event) and who is at risk in each: start < day ≤ stop.

    >>> found = risk_sets(PatternCounts(2, [0, 1, 1], [3, 3, 9], [1, 0, 1]))
    >>> found.cells.day.tolist(), found.at_risk.in_cells(np.ones(2)).tolist()
    ([3, 9], [3.0, 1.0])
    """
    labels, stratum = counts.numbered_strata
    hit = np.flatnonzero(counts.event if counts.joints is None else counts.event * counts.joints)
    pattern, joints = counts.pattern[hit], counts.weights[hit].astype(float)
    cells, cell = event_cells(stratum[pattern], counts.day[hit], joints, len(labels))
    events = Events(len(cells), counts.patterns, pattern, cell, joints)
    rows = _rows(counts, stratum, cells)
    small = counts.patterns * cells.places <= _DENSE
    return RiskSets(cells, rows.dense() if small else rows, events, rows)


def thinned(sets: RiskSets) -> RiskSets:
    """
    Merge neighbouring cells into few, each with the risk set of its middle.

    Risk sets change slowly from day to day. What is found here is near the truth and quickly found,
    so that the exact work can start next to its end.
    """
    fine, events = sets.cells, sets.events
    coarse = _groups(fine, max(8, min(_ROUGH_CELLS, _DENSE // max(events.patterns, 1))))
    totals = np.bincount(coarse, fine.events).astype(np.int64)
    middle = np.searchsorted(np.cumsum(fine.events), np.cumsum(totals) - totals / 2)
    merged = Cells(fine.stratum[middle], fine.day[middle], totals, fine.strata)
    stratum = np.repeat(np.arange(fine.strata), [end - first + 1 for first, end in fine.bounds])
    place = np.searchsorted(middle, np.arange(fine.places) - stratum) + stratum
    rows = AtRisk(merged, sets.rows.patterns, sets.rows.pattern, place[sets.rows.place], sets.rows.joints)
    having = Events(len(merged), events.patterns, events.pattern, coarse[events.cell], events.joints)
    return RiskSets(merged, rows.dense(), having, rows)


def _groups(cells: Cells, most: int) -> np.ndarray:
    """(m,) group of neighbouring cells of one stratum with about equally many events; at least one a stratum."""
    number = np.zeros(len(cells), dtype=np.int64)
    for first, end in cells.bounds:
        events = cells.events[first:end]
        share = max(1, round(most * events.sum() / cells.events.sum()))
        number[first:end] = (np.cumsum(events) - events / 2) / max(events.sum(), 1) * share
    return np.cumsum(np.diff(cells.stratum * (most + 1) + number, prepend=-1) != 0) - 1


def _rows(counts: PatternCounts, stratum: np.ndarray, cells: Cells) -> AtRisk:
    pattern, day = counts.pattern, counts.day
    joints = None if counts.joints is None else counts.joints.astype(float)
    if counts.entered is not None:
        pattern, day = np.concatenate([pattern, counts.entered.group]), np.concatenate([day, counts.entered.day])
        joints = np.concatenate([counts.weights, -counts.entered.joints]).astype(float)
    of_row = stratum[pattern] if cells.strata > 1 else np.zeros(1, dtype=np.int64)
    return AtRisk(cells, counts.patterns, pattern, cells.places_of(of_row, day), joints)
