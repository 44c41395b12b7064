"""First step of a screen: each unit's rate beside that of all others of its pool, itself left out."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from regdash.signals.pool import Pool, Window, cuts_of
from regdash.stats.stated_ratio import rate_p_above
from regdash.stats.unit_rows import window_of
from regdash.stats.years import years_in


@dataclass(frozen=True, eq=False)
class UnitRates:
    """Counts of each unit in one window, and of all others that it is compared with; (units,) each."""

    joints: np.ndarray  # in follow-up in the window, for however short
    years: np.ndarray
    revised: np.ndarray
    other_years: np.ndarray
    other_revised: np.ndarray

    @property
    def per_100_years(self) -> np.ndarray:
        """Revisions per 100 implant-years; NaN without follow-up."""
        return 100 * _over(self.revised, self.years)

    @property
    def expected(self) -> np.ndarray:
        """Revisions at the rate of all others; NaN where they have no follow-up."""
        return _over(self.other_revised, self.other_years) * self.years

    @property
    def ratio(self) -> np.ndarray:
        """Its rate over that of all others; NaN where they have no revision."""
        return _over(self.revised, self.expected)

    def p_above(self, stated: float) -> np.ndarray:
        """One-sided exact p of a ratio up to the stated one."""
        return rate_p_above(self.revised, self.years, self.other_revised, self.other_years, stated)


@dataclass(frozen=True, eq=False)
class _Counted:
    """Joints by the window that their follow-up ends in, (units, parts); all whole numbers."""

    left: np.ndarray
    revised: np.ndarray
    days: np.ndarray  # of follow-up, since implantation

    def in_windows(self, windows: Sequence[Window]) -> list[tuple[np.ndarray, np.ndarray, np.ndarray]]:
        """Give joints, days and revisions of each unit in each window."""
        if len(windows) == 1:
            return [(self.left[:, 0], self.days[:, 0], self.revised[:, 0])]
        reach = np.cumsum(self.left[:, ::-1], axis=1)[:, ::-1]  # whoever leaves in a window or later reaches it
        found = [(reach[:, 0], self.days.sum(axis=1), self.revised.sum(axis=1))]
        for part, window in enumerate(windows[1:]):
            first = max(window.start, 0)
            spent = self.days[:, part] - self.left[:, part] * first
            if window.stop is not None:
                spent = spent + (reach[:, part] - self.left[:, part]) * (window.stop - first)
            found.append((reach[:, part], spent, self.revised[:, part]))
        return found


def pool_rates(pool: Pool, windows: Sequence[Window]) -> list[UnitRates]:
    """
    Count each unit of a pool in each window, and all others; who is apart is among nobody's others.

    Args:
        windows: as `windows_of` makes them.
    """
    parts, own = max(len(windows) - 1, 1), np.logical_not(pool.apart)
    ended = window_of(pool.day, cuts_of(windows))
    units = _counted(pool, slice(None), ended, parts).in_windows(windows)
    inside, again = [(own * days, own * revised) for _, days, revised in units], None
    if pool.several:
        kept, twice = np.flatnonzero(pool.inside), np.flatnonzero(pool.inside != pool.comparable)
        inside = [each[1:] for each in _counted(pool, kept, ended[kept], parts).in_windows(windows)]
        again = _counted(pool, twice, ended[twice], parts).in_windows(windows)
    rates = []
    for number, (joints, days, revised) in enumerate(units):
        own_days, own_revised = inside[number]
        other_days, other_revised = own_days.sum(), own_revised.sum()
        if again is not None:
            _, more_days, more_revised = again[number]
            other_days, other_revised = other_days - more_days.sum(), other_revised - more_revised.sum()
        years = years_in(days), years_in(other_days - own_days)
        rates.append(UnitRates(joints, years[0], revised, years[1], other_revised - own_revised))
    return rates


def _counted(pool: Pool, rows: slice | np.ndarray, ended: np.ndarray, parts: int) -> _Counted:
    size = len(pool.codes) * parts
    key = pool.unit[rows] * np.intp(parts) + ended
    left, days = np.bincount(key, minlength=size), np.bincount(key, pool.day[rows], size)
    revised = np.bincount(key[pool.revised[rows]], minlength=size)
    return _Counted(*(each.reshape(-1, parts) for each in (left, revised, days)))


def _over(one: np.ndarray, other: np.ndarray) -> np.ndarray:
    return np.divide(one, other, out=np.full(len(one), np.nan), where=other > 0)
