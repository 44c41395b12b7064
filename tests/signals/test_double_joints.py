"""
Joints with two units in one role: each is a joint of both, and among all others of anybody once.

Compared with a Cox model of one column on the joints themselves (`cox` is compared with R's coxph elsewhere), and rates
with a plain count of them.
"""

from dataclasses import replace

import numpy as np
import pytest

from regdash.signals.hazards import pool_hazards
from regdash.signals.pool import Pool, windows_of
from regdash.signals.rates import pool_rates
from regdash.stats.cox import cox
from regdash.stats.cox_counts import PatternCounts
from regdash.stats.design import linear

UNITS, JOINTS = 6, 600
WHOLE = windows_of([])


@pytest.fixture(scope="module", params=[0, 1, 2], ids=["nobody apart", "one apart", "two apart"])
def pool(request: pytest.FixtureRequest) -> Pool:
    """A sixth of the joints have two units; events are tied, and some strata have few."""
    rng = np.random.default_rng(5)
    first = rng.integers(0, UNITS, JOINTS)
    second = np.where(rng.random(JOINTS) < 1 / 6, (first + rng.integers(1, UNITS, JOINTS)) % UNITS, -1)
    joint_no = np.concatenate([np.arange(JOINTS), np.flatnonzero(second >= 0)])
    unit = np.concatenate([first, second[second >= 0]])
    order = np.lexsort((joint_no, unit))
    joint_no, unit = joint_no[order], unit[order]
    day, revised, stratum = rng.integers(0, 40, JOINTS), rng.random(JOINTS) < 0.3, rng.integers(0, 3, JOINTS)
    codes = tuple(f"KF-00{number}" for number in range(UNITS))
    apart = np.arange(UNITS) >= UNITS - request.param
    return Pool("total", "femoral", codes, apart, joint_no, unit, day[joint_no], revised[joint_no], stratum[joint_no])


def sides_of(pool: Pool, unit: int) -> tuple[np.ndarray, np.ndarray]:
    """Joint numbers of the unit's own joints, and of all others that it is compared with."""
    own = np.unique(pool.joint_no[pool.unit == unit])
    out = np.concatenate([own, pool.joint_no[pool.apart[pool.unit]]])
    return own, np.setdiff1d(pool.joint_no, out)


def columns_of(pool: Pool, joints: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    rows = np.unique(pool.joint_no, return_index=True)[1]
    place = rows[np.searchsorted(pool.joint_no[rows], joints)]
    return pool.day[place], pool.revised[place], pool.stratum[place]


def test_each_ratio_is_that_of_a_model_on_joints_each_once(pool: Pool) -> None:
    assert pool.several > 50
    assert bool(pool.mixed.any()) == bool(pool.apart.any())
    (found,) = pool_hazards(pool, WHOLE, np.ones((1, UNITS), dtype=bool), 1.25, 0.95)
    for unit, one in enumerate(found):
        own, others = sides_of(pool, unit)
        day, revised, stratum = (
            np.concatenate(pair) for pair in zip(columns_of(pool, own), columns_of(pool, others), strict=True)
        )
        mine = np.arange(len(day)) < len(own)
        pattern = stratum + 3 * mine
        counts = PatternCounts(6, pattern, day, revised.astype(int), None, np.array([0, 1, 2, 0, 1, 2]))
        model = cox(counts, linear("unit", np.array([0.0, 0, 0, 1, 1, 1])))
        assert one is not None
        (ratio,) = model.ratios(0.95)
        assert (one.joints, one.events) == (len(own), int(revised[mine].sum()))
        assert (one.ratio.ratio, one.ratio.lower, one.ratio.upper) == pytest.approx(
            (ratio.ratio, ratio.lower, ratio.upper), rel=1e-9
        )


def test_rates_count_all_others_once(pool: Pool) -> None:
    (rates,) = pool_rates(pool, WHOLE)
    for unit in range(UNITS):
        own, others = sides_of(pool, unit)
        (day, revised, _), (other_day, other_revised, _) = columns_of(pool, own), columns_of(pool, others)
        told = (rates.joints[unit], rates.revised[unit], rates.other_revised[unit])
        assert told == (len(own), revised.sum(), other_revised.sum())
        assert rates.years[unit] * 365.25 == pytest.approx(day.sum())
        assert rates.other_years[unit] * 365.25 == pytest.approx(other_day.sum())


def test_a_joint_of_two_units_that_are_not_apart_is_nobody_s_twice(pool: Pool) -> None:
    """Were each row a joint of its own, ratios would differ: the case is not empty."""
    if pool.apart.any():
        pool = replace(pool, apart=np.zeros(UNITS, dtype=bool))
    twice = replace(pool, joint_no=np.arange(len(pool.joint_no)))
    asked = np.ones((1, UNITS), dtype=bool)
    (once,), (other,) = (pool_hazards(each, WHOLE, asked, 1.25, 0.95) for each in (pool, twice))
    assert all(one.ratio.ratio != two.ratio.ratio for one, two in zip(once, other, strict=True) if one and two)
