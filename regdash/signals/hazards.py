"""Second step of a screen: each unit's hazard ratio against all others that are alike in age band, sex and the like."""

import numpy as np

from regdash.signals.pool import Pool, Window
from regdash.stats.cox_counts import PatternCounts
from regdash.stats.screened import ScreenedRatio, screened_hazard_ratios
from regdash.store.tallies import tally

_REST = "all others that are not tested"


def unit_hazards(
    pool: Pool, window: Window, tested: np.ndarray, stated: float, level: float
) -> list[ScreenedRatio | None]:
    """
    Estimate the stratified hazard ratio of each tested unit in one window.

    Who is at risk in a window is whose follow-up reaches its days, so that nobody enters late and nothing is split.

    Args:
        tested: (units,) bool; the others stand among those compared with alone.
        stated: the ratio that each is tested against, as `screened_hazard_ratios`.
        level: of the limits.

    Returns:
        One a unit; None where it is not tested, or nobody is revised in the window.
    """
    found: list[ScreenedRatio | None] = [None] * len(pool.codes)
    rows = _Rows.of(pool, window)
    inside = rows.only(np.logical_not(pool.apart[rows.unit]))
    ordinary = np.flatnonzero(tested & ~pool.apart)
    if len(ordinary) and inside.event.any():
        place = np.full(len(pool.codes), len(ordinary))
        place[ordinary] = np.arange(len(ordinary))
        names = (*(pool.codes[unit] for unit in ordinary.tolist()), _REST)
        ratios = screened_hazard_ratios(*inside.counted(place), names, level=level, stated=stated)
        for unit, ratio in zip(ordinary.tolist(), ratios):
            found[unit] = ratio
    apart = np.flatnonzero(tested & pool.apart).tolist()
    others = inside.tallied() if apart else inside
    for unit in apart:
        both = rows.only(rows.unit == unit).beside(others, unit)
        if both.event.any():
            names = (pool.codes[unit], _REST)
            found[unit] = screened_hazard_ratios(*both.counted(), names, level=level, stated=stated)[0]
    return found


class _Rows:
    """Joints whose stratum is known, in follow-up in a window, or counts of such joints."""

    def __init__(
        self, unit: np.ndarray, stratum: np.ndarray, day: np.ndarray, event: np.ndarray, joints: np.ndarray | None
    ) -> None:
        self.unit, self.stratum, self.day, self.event, self.joints = unit, stratum, day, event, joints

    @classmethod
    def of(cls, pool: Pool, window: Window) -> "_Rows":
        event, day = window.hit(pool.day, pool.revised), pool.day
        if window.stop is not None:
            day = np.minimum(day, window.stop + 1)  # whoever is followed longer is at risk on every day of the window
        rows = cls(pool.unit, pool.stratum, day, event, None)
        there = (pool.stratum >= 0) & window.reached(pool.day)
        return rows if there.all() else rows.only(there)

    def only(self, which: np.ndarray) -> "_Rows":
        joints = None if self.joints is None else self.joints[which]
        return _Rows(self.unit[which], self.stratum[which], self.day[which], self.event[which], joints)

    def tallied(self) -> "_Rows":
        """The same joints counted, their units forgotten."""
        if not len(self.day):
            return self
        found = tally([[self.stratum, self.day, self.event.astype(np.int64)]], 1)
        stratum = found.groups[0][found.group]
        return _Rows(np.zeros(len(stratum), dtype=np.int64), stratum, found.cells[0], found.cells[1] > 0, found.counts)

    def beside(self, others: "_Rows", unit: int) -> "_Rows":
        """These joints of one unit as unit 0, and others as unit 1."""
        pairs = [(self.stratum, others.stratum), (self.day, others.day), (self.event, others.event)]
        pairs.append((self._weights, others._weights))
        which = np.repeat([0, 1], [len(self.day), len(others.day)])
        return _Rows(which, *(np.concatenate(pair) for pair in pairs))

    @property
    def _weights(self) -> np.ndarray:
        return np.ones(len(self.day), dtype=np.int64) if self.joints is None else self.joints

    def counted(self, place: np.ndarray | None = None) -> tuple[PatternCounts, np.ndarray]:
        """Count them by unit and stratum; and the unit of each pattern. `place` numbers the units anew."""
        unit = self.unit if place is None else place[self.unit]
        strata = int(self.stratum.max(initial=0)) + 1
        key = unit * strata + self.stratum
        seen = np.bincount(key) > 0
        of, stratum = np.divmod(np.flatnonzero(seen), strata)
        pattern = (np.cumsum(seen) - 1)[key]
        counts = PatternCounts(
            len(of), pattern, self.day, self.event.astype(np.int64), self.joints, stratum, checked=True
        )
        return counts, of
