"""Standardised ratios of units that are no part of their own reference: each against all others of its strata."""

from collections.abc import Iterator, Sequence

import numpy as np

from regdash.stats.cox_counts import PatternCounts
from regdash.stats.risk_sets import RiskSets, risk_sets
from regdash.stats.standardised_ratio import UnitRatio, checked_units, unit_ratios

_BLOCK = 2**20  # joints at risk, units × days, held at one time


def ratios_against_others(
    counts: PatternCounts, unit: np.ndarray, names: Sequence[str], level: float = 0.95, mid_p: bool = False
) -> tuple[UnitRatio, ...]:
    """
    Compare each unit with the hazard of all others, stratum by stratum and day by day.

    Events on days on which no other joint of the stratum is followed are left out.

    Args:
        counts: joints by pattern, day and event; a pattern is a unit within a stratum.
        unit: (patterns,) int, the unit of each pattern.
        names: of the units.
        level, mid_p: as `standardised_ratio`.

    Returns:
        One a unit, in the order of names.

    Raises:
        CountError: not one unit a pattern, or a unit without a name.

    >>> counts = PatternCounts(2, [0, 1, 0, 1], [1, 1, 9, 9], [1, 1, 0, 0], [1, 3, 4, 2])  # of 5 and 5, 1 and 3
    >>> [round(one.ratio.expected, 9) for one in ratios_against_others(counts, [0, 1], ["A", "B"])]
    [3.0, 1.0]
    """
    unit = checked_units(counts, unit, len(names))
    observed, expected, left_out = np.zeros(len(names)), np.zeros(len(names)), np.zeros(len(names))
    for units, own, own_events, at_risk, events in _blocks(risk_sets(counts), counts, unit):
        others = at_risk - own
        hazard = np.divide(events - own_events, others, out=np.zeros_like(others), where=others > 0)
        alone = (own_events * (others <= 0)).sum(axis=1)
        expected[units] += (own * hazard).sum(axis=1)
        observed[units] += own_events.sum(axis=1) - alone
        left_out[units] += alone
    joints = np.bincount(unit, counts.by_pattern(), len(names))
    return unit_ratios(joints, observed, expected, left_out, names, level=level, mid_p=mid_p)


def _blocks(
    sets: RiskSets, counts: PatternCounts, unit: np.ndarray
) -> Iterator[tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray, np.ndarray]]:
    """
    Give some units of one stratum at a time: their numbers, (u, m) their joints at risk and with the event in each
    event cell, and (m,) those of everybody.
    """
    at_risk = sets.at_risk.in_cells(np.ones(counts.patterns))
    stratum = counts.numbered_strata[1]
    rows, having = sets.rows, sets.events
    by_row = _Sorted(stratum[rows.pattern], unit[rows.pattern], rows.place, rows.joints)
    by_event = _Sorted(stratum[having.pattern], unit[having.pattern], having.cell, having.joints)
    for number, (first, end) in enumerate(sets.cells.bounds):
        cells, present = end - first, by_row.units_of(number)
        for start in range(0, len(present) if cells else 0, max(1, _BLOCK // max(cells, 1))):
            units = present[start : start + max(1, _BLOCK // cells)]
            # The first place of a stratum is that before its first cell: nobody there is at risk in any.
            own = by_row.summed(number, units, first + number, cells + 1)[:, :0:-1].cumsum(axis=1)[:, ::-1]
            yield (
                units,
                own,
                by_event.summed(number, units, first, cells),
                at_risk[first:end],
                sets.cells.events[first:end],
            )


class _Sorted:
    """Rows of joints, in order of stratum and unit."""

    def __init__(self, stratum: np.ndarray, unit: np.ndarray, where: np.ndarray, joints: np.ndarray | None) -> None:
        order = np.lexsort((unit, stratum))
        self.stratum, self.unit, self.where = stratum[order], unit[order], where[order]
        self.joints = np.ones(len(order)) if joints is None else joints[order]

    def units_of(self, stratum: int) -> np.ndarray:
        """The units with rows in a stratum, rising."""
        return np.unique(self.unit[slice(*np.searchsorted(self.stratum, [stratum, stratum + 1]))])

    def summed(self, stratum: int, units: np.ndarray, first: int, size: int) -> np.ndarray:
        """(units, size) joints of some units, rising, by place or cell from the first on."""
        start, stop = np.searchsorted(self.stratum, [stratum, stratum + 1])
        ends = np.searchsorted(self.unit[start:stop], [units[0], units[-1] + 1]) + start
        rows = slice(*ends)
        cell = np.searchsorted(units, self.unit[rows]) * size + self.where[rows] - first
        return np.bincount(cell, self.joints[rows], len(units) * size).reshape(len(units), size)
