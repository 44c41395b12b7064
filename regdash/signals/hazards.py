"""Second step of a screen: each unit's hazard ratio against all others that are alike in age band, sex and the like."""

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from regdash.signals.pool import Pool, Window, cuts_of
from regdash.stats.risk_shares import ScreenedRatio, window_p, window_ratios
from regdash.stats.screened import Body, ScreenedUnits
from regdash.stats.screened_outside import OutsideUnits
from regdash.stats.unit_rows import UnitRows


def pool_hazards(
    pool: Pool, windows: Sequence[Window], tested: np.ndarray, stated: float, level: float
) -> list[list[ScreenedRatio | None]]:
    """
    Estimate the stratified hazard ratio of each tested unit in each window.

    Who is at risk in a window is whose follow-up reaches its days, so that nobody enters late and nothing is split.

    Args:
        windows: as `windows_of` makes them.
        tested: (windows, units) bool; the others stand among those compared with alone.
        stated: the ratio that each is tested against, as `screened_hazard_ratios`.
        level: of the limits.

    Returns:
        For each window one a unit; None where it is not tested, or nobody is revised in the window.
    """
    found: list[list[ScreenedRatio | None]] = [[None] * len(pool.codes) for _ in windows]
    for units, screened in _screens(pool, windows, tested):
        names = [pool.codes[unit] for unit in units.tolist()]
        ratios = window_ratios(screened.blocks(), screened.counted, tested[:, units], names, level, stated)
        for all_units, some in zip(found, ratios, strict=True):
            for unit, one in zip(units.tolist(), some, strict=True):
                all_units[unit] = one
    return found


def pool_p(pool: Pool, windows: Sequence[Window], tested: np.ndarray, stated: float) -> np.ndarray:
    """(windows, units) the one-sided p of `pool_hazards` alone; NaN where it has None."""
    found = np.full(tested.shape, np.nan)
    for units, screened in _screens(pool, windows, tested):
        found[:, units] = window_p(screened.blocks(), screened.counted, tested[:, units], stated)
    return found


def _screens(
    pool: Pool, windows: Sequence[Window], tested: np.ndarray
) -> Iterator[tuple[np.ndarray, ScreenedUnits | OutsideUnits]]:
    """
    Give the units that are tested in some window: those compared with each other, then those that are not.

    A unit of which some joint has another unit that is apart is not: of its joints, some are in nobody's comparison
    group, so that it is compared with others that are counted without it.
    """
    cuts, asked = cuts_of(windows), tested.any(axis=0)
    ordinary, apart = np.flatnonzero(asked & ~pool.apart & ~pool.mixed), np.flatnonzero(asked & pool.apart)
    known = pool.stratum >= 0
    if len(ordinary) or len(apart):
        inside = known & pool.inside if pool.apart.any() else known
        screened = ScreenedUnits(_rows(pool, ordinary, inside, cuts))
        if len(ordinary):
            yield ordinary, screened
        if len(apart):
            yield apart, OutsideUnits(screened.body, _own(pool, apart, known, cuts))
    for unit in np.flatnonzero(asked & pool.mixed):
        one = np.array([unit])
        has = np.zeros(int(pool.joint_no.max(initial=-1)) + 1, dtype=bool)
        has[pool.joint_no[pool.unit == unit]] = True
        others = _rows(pool, np.zeros(0, dtype=np.int64), known & pool.inside & ~has[pool.joint_no], cuts)
        yield one, OutsideUnits(Body(others, "efron"), _own(pool, one, known, cuts))


def _own(pool: Pool, units: np.ndarray, known: np.ndarray, cuts: tuple[int, ...]) -> UnitRows:
    """All rows of some units, whether or not they may be compared with."""
    chosen = np.zeros(len(pool.codes), dtype=bool)
    chosen[units] = True
    return replace(_rows(pool, units, known & chosen[pool.unit], cuts), again=None)


def _rows(pool: Pool, units: np.ndarray, which: np.ndarray, cuts: tuple[int, ...]) -> UnitRows:
    """Some rows, the units numbered anew; all others have the number after the last."""
    number = np.full(len(pool.codes), len(units), dtype=np.int32)
    number[units] = np.arange(len(units), dtype=np.int32)
    again = pool.inside & ~pool.comparable if pool.several else None
    columns = (pool.unit, pool.stratum, pool.day, pool.revised)
    if not which.all():
        columns = tuple(column[which] for column in columns)
        again = None if again is None else again[which]
    unit, stratum, day, revised = columns
    return UnitRows.sorted(number[unit], len(units), stratum, day, revised, cuts=cuts, again=again)
