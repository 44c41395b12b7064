"""
A published first look at implants, reproduced as a test alone: our own screen differs, and is held against it.

Source: de Steiger, Miller, Davidson, Ryan & Graves (2013), Acta Orthop 84:348-352, three stages: an automatic first
one, more analysis, a panel. The numbers of the first stage are those of its published description, from memory: a
rate per 100 implant-years above twice that of all others of the class, a Poisson probability of so many revisions
below 0.05, and 10 primaries or more, or else two or more revised that are three quarters of them.
"""

import numpy as np
from scipy.stats import poisson

from regdash.signals.model import ALL
from regdash.signals.pool import Pool, windows_of
from regdash.signals.rates import UnitRates, pool_rates
from regdash.signals.screen import screen
from regdash.signals.settings import read_settings
from synthetic_registry import simulate
from tests.signals.registers import planted_code, pools_of

SETTINGS = read_settings()
WINDOWS = windows_of(SETTINGS.windows)


def first_stage(rates: UnitRates) -> np.ndarray:
    """(units,) bool: which units the published first stage would look at further."""
    likely = poisson.sf(rates.revised - 1, np.nan_to_num(rates.expected, nan=np.inf))
    enough = (rates.joints >= 10) | ((rates.revised >= 2) & (rates.revised >= 0.75 * rates.joints))
    return (np.nan_to_num(rates.ratio) > 2) & (likely < 0.05) & enough


def pool_of(counts: list[tuple[int, int]], years: float = 5) -> Pool:
    """Units of so many joints, of which so many are revised, all followed for equally long."""
    unit = np.repeat(np.arange(len(counts)), [joints for joints, _ in counts])
    revised = np.concatenate([np.arange(joints) < events for joints, events in counts])
    codes = tuple(f"U{number}" for number in range(len(counts)))
    day = np.full(len(unit), round(365.25 * years))
    return Pool(
        "total", "tibial", codes, np.zeros(len(counts), bool), np.arange(len(unit)), unit, day, revised, unit * 0
    )


def test_each_part_of_the_published_rule_is_needed() -> None:
    """By hand: 100 of 5,000 others are revised, so that 2 of every 100 joints are expected."""
    counts = [(5_000, 100), (100, 8), (100, 4), (9, 2), (9, 7), (1_000, 39)]
    looked_at = first_stage(pool_rates(pool_of(counts), WINDOWS[:1])[0])
    # 8 of 100 is four times the rate; 4 of 100 has a probability of 0.16; 2 of 9 are too few primaries, and 7 of 9 are
    # three quarters revised; 39 of 1,000 is not twice the rate, however unlikely.
    assert looked_at.tolist() == [False, True, False, False, True, False]


def test_ours_sees_a_precise_ratio_below_two_and_lets_small_numbers_pass() -> None:
    counts = [(50_000, 1_000), (10_000, 390), *[(20, 2)] * 30]
    pool = pool_of(counts)
    looked_at = first_stage(pool_rates(pool, WINDOWS[:1])[0])
    assert not looked_at[1]
    signals = {one.code for one in screen([pool], SETTINGS, WINDOWS[:1], 0.95).signals}
    assert signals == {"U1"}


def test_ours_sees_a_late_failure_that_a_rate_over_all_of_follow_up_dilutes() -> None:
    """The register's own truth: one implant has three times the hazard after five years, and none before."""
    register = simulate(60_000, seed=1)
    (pool,) = [one for one in pools_of(register) if (one.joint_class, one.role) == ("total", "tibial")]
    start, late = (planted_code(register, kind) for kind in ("poor from the start", "poor after five years"))
    looked_at = dict(zip(pool.codes, first_stage(pool_rates(pool, WINDOWS[:1])[0]).tolist(), strict=True))
    assert (looked_at[start], looked_at[late]) == (True, False)
    signals = {(one.code, one.window.label) for one in screen([pool], SETTINGS, WINDOWS, 0.95).signals}
    assert {(start, ALL), (late, "5..")} <= signals
