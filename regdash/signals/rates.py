"""First step of a screen: each unit's rate beside that of all others of its pool, itself left out."""

from dataclasses import dataclass

import numpy as np

from regdash.signals.pool import Pool, Window
from regdash.stats.stated_ratio import rate_p_above
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


def unit_rates(pool: Pool, window: Window) -> UnitRates:
    """Count each unit of a pool in one window, and all others; who is apart is among nobody's others."""
    size = len(pool.codes)
    hit, spent = window.hit(pool.day, pool.revised), window.spent(pool.day).astype(float)
    joints = np.bincount(pool.unit[window.reached(pool.day)], minlength=size)
    days, revised = np.bincount(pool.unit, spent, size), np.bincount(pool.unit[hit], minlength=size)
    inside = pool.comparable
    own = np.logical_not(pool.apart)
    others = [spent[inside].sum() - own * days, np.count_nonzero(hit & inside) - own * revised]
    return UnitRates(joints, years_in(days), revised, years_in(others[0]), others[1])


def _over(one: np.ndarray, other: np.ndarray) -> np.ndarray:
    return np.divide(one, other, out=np.full(len(one), np.nan), where=other > 0)
