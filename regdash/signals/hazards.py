"""Second step of a screen: each unit's hazard ratio against all others that are alike in age band, sex and the like."""

import numpy as np

from regdash.signals.pool import Pool, Window
from regdash.stats.cox_counts import PatternCounts
from regdash.stats.screened import ScreenedRatio, screened_hazard_ratios
from regdash.stats.screened_outside import outside_hazard_ratios

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
    rows = _Rows.of(pool, window)
    inside = rows.only(np.logical_not(pool.apart[rows.unit])) if pool.apart.any() else rows
    if not inside.event.any():
        return [None] * len(pool.codes)
    ordinary, apart = np.flatnonzero(tested & ~pool.apart), np.flatnonzero(tested & pool.apart)
    found: dict[int, ScreenedRatio | None] = dict.fromkeys(range(len(pool.codes)))
    if len(ordinary):
        names = (*(pool.codes[unit] for unit in ordinary.tolist()), _REST)
        ratios = screened_hazard_ratios(
            *inside.counted(_places(ordinary, len(pool.codes))), names, level=level, stated=stated
        )
        found |= dict(zip(ordinary.tolist(), ratios))
    if len(apart):
        names = tuple(pool.codes[unit] for unit in apart.tolist())
        place = _places(apart, len(pool.codes))
        own = rows.only(place[rows.unit] < len(apart)).counted(place)
        ratios = outside_hazard_ratios(inside.counted(place * 0)[0], *own, names, level=level, stated=stated)
        found |= dict(zip(apart.tolist(), ratios, strict=True))
    return list(found.values())


def _places(units: np.ndarray, size: int) -> np.ndarray:
    """(size,) the place of each unit among some; their number for all others."""
    place = np.full(size, len(units))
    place[units] = np.arange(len(units))
    return place


class _Rows:
    """Joints whose stratum is known, in follow-up in a window."""

    def __init__(self, unit: np.ndarray, stratum: np.ndarray, day: np.ndarray, event: np.ndarray) -> None:
        self.unit, self.stratum, self.day, self.event = unit, stratum, day, event

    @classmethod
    def of(cls, pool: Pool, window: Window) -> "_Rows":
        event, day = window.hit(pool.day, pool.revised), pool.day
        if window.stop is not None:
            day = np.minimum(day, window.stop + 1)  # whoever is followed longer is at risk on every day of the window
        rows = cls(pool.unit, pool.stratum, day, event)
        there = (pool.stratum >= 0) & window.reached(pool.day)
        return rows if there.all() else rows.only(there)

    def only(self, which: np.ndarray) -> "_Rows":
        return _Rows(self.unit[which], self.stratum[which], self.day[which], self.event[which])

    def counted(self, place: np.ndarray) -> tuple[PatternCounts, np.ndarray]:
        """Count them by unit, numbered anew by `place`, and stratum; and the unit of each pattern."""
        strata = int(self.stratum.max(initial=0)) + 1
        key = place[self.unit] * strata + self.stratum
        seen = np.bincount(key) > 0
        unit, stratum = np.divmod(np.flatnonzero(seen), strata)
        pattern, event = (np.cumsum(seen) - 1)[key], self.event.astype(np.int64)
        return PatternCounts(len(unit), pattern, self.day, event, None, stratum, checked=True), unit
