"""A screen on counts: against R, against planted truths, and against nothing."""

from dataclasses import replace
from math import log, sqrt

import numpy as np
import pytest
from scipy.stats import binom, binomtest

from regdash.signals.chance import drawn_ratios
from regdash.signals.hazards import pool_hazards, pool_p
from regdash.signals.labels import label, upper_limit
from regdash.signals.model import ALL, LOOK_CLOSER, NOTHING_UNUSUAL, TOO_FEW
from regdash.signals.pool import Pool, Window, windows_of
from regdash.signals.rates import UnitRates, pool_rates
from regdash.signals.screen import screen
from regdash.signals.settings import read_settings
from regdash.stats.cox import wald_ratio
from regdash.stats.risk_shares import ScreenedRatio
from synthetic_registry import simulate
from synthetic_registry.knee import KNEE
from tests.signals.registers import planted_code, pools_of
from tests.stats.cases import rows_of

SETTINGS = read_settings()
WINDOWS = windows_of(SETTINGS.windows)


def rates_of(pool: Pool, window: Window) -> UnitRates:
    windows = WINDOWS if window in WINDOWS else (window,)
    return pool_rates(pool, windows)[windows.index(window)]


def hazards_of(pool: Pool, window: Window, tested: np.ndarray, stated: float) -> list[ScreenedRatio | None]:
    windows = WINDOWS if window in WINDOWS else (window,)
    asked = np.array([tested] * len(windows))
    found = pool_hazards(pool, windows, asked, stated, 0.95)[windows.index(window)]
    p = pool_p(pool, windows, asked, stated)[windows.index(window)]
    assert p[~np.isnan(p)].tolist() == [one.p_higher for one in found if one is not None]
    return found


@pytest.fixture(scope="module")
def flchain() -> Pool:
    rows = rows_of("data_flchain")
    group, age, day, died = (np.array([int(r[name]) for r in rows]) for name in ("flc.grp", "age", "futime", "death"))
    stratum = np.searchsorted([59, 69, 79], age) * 2 + np.array([row["sex"] == "M" for row in rows])
    codes = tuple(str(number) for number in range(1, 11))
    return Pool("total", "femoral", codes, np.zeros(10, bool), np.arange(len(rows)), group - 1, day, died == 1, stratum)


@pytest.mark.parametrize("window", WINDOWS, ids=lambda window: window.label)
def test_rates_and_hazard_ratios_of_each_window_are_those_of_r(flchain: Pool, window: Window) -> None:
    printed = [row for row in rows_of("screen_flchain") if row["window"] == window.label]
    rates = rates_of(flchain, window)
    assert rates.joints.tolist() == [int(row["joints"]) for row in printed]
    assert rates.revised.tolist() == [int(row["events"]) for row in printed]
    assert (rates.years * 365.25).round().tolist() == [int(row["days"]) for row in printed]
    assert rates.ratio == pytest.approx([float(row["rate_ratio"]) for row in printed], rel=1e-9)
    assert rates.p_above(1.25) == pytest.approx([float(row["rate_p"]) for row in printed], rel=1e-9)
    hazards = hazards_of(flchain, window, np.ones(10, bool), 1.25)
    for one, row in zip(hazards, printed, strict=True):
        assert one is not None
        figures = (one.ratio.ratio, one.ratio.lower, one.ratio.upper)
        assert figures == pytest.approx([float(row[name]) for name in ("hr", "lower", "upper")], rel=1e-8)


def test_one_who_is_not_tested_is_compared_with_and_one_apart_is_not(flchain: Pool) -> None:
    """Leaving a group apart is the same as a pool without it, for all others; it is compared with these others."""
    everybody = np.ones(10, bool)
    apart = replace(flchain, apart=np.arange(10) >= 8)
    without = flchain.unit < 8
    kept = [getattr(flchain, name)[without] for name in ("joint_no", "unit", "day", "revised", "stratum")]
    smaller = Pool("total", "femoral", flchain.codes[:8], np.zeros(8, bool), *kept)
    with_ninth = flchain.unit < 9
    kept = [getattr(flchain, name)[with_ninth] for name in ("joint_no", "unit", "day", "revised", "stratum")]
    ninth = Pool("total", "femoral", flchain.codes[:9], np.zeros(9, bool), *kept)
    for window in WINDOWS:
        found = hazards_of(apart, window, everybody, 1.25)
        expected = hazards_of(smaller, window, everybody[:8], 1.25)
        expected += hazards_of(ninth, window, everybody[:9], 1.25)[8:]
        assert ratios(found[:9]) == pytest.approx(ratios(expected), rel=1e-9)
        rates, others = rates_of(apart, window), rates_of(smaller, window)
        assert rates.ratio[:8] == pytest.approx(others.ratio)
        assert rates.ratio[8] == pytest.approx(rates_of(ninth, window).ratio[8])
    some = hazards_of(flchain, WINDOWS[0], np.arange(10) < 3, 1.25)
    assert ratios(some[:3]) == pytest.approx(ratios(hazards_of(flchain, WINDOWS[0], everybody, 1.25))[:3])
    assert some[3:] == [None] * 7


def ratios(found: list[ScreenedRatio | None]) -> list[float]:
    return [one.ratio.ratio for one in found if one is not None and one.ratio.ratio is not None]


def test_a_joint_without_a_stratum_has_a_rate_and_no_hazard_ratio(flchain: Pool) -> None:
    lacking = np.arange(len(flchain.day)) % 7 == 0
    pool = replace(flchain, stratum=np.where(lacking, -1, flchain.stratum))
    kept = [getattr(flchain, name)[~lacking] for name in ("joint_no", "unit", "day", "revised", "stratum")]
    fewer = Pool("total", "femoral", flchain.codes, flchain.apart, *kept)
    (window, *_), everybody = WINDOWS, np.ones(10, bool)
    assert rates_of(pool, window).joints.tolist() == rates_of(flchain, window).joints.tolist()
    found, expected = (hazards_of(one, window, everybody, 1.25) for one in (pool, fewer))
    assert ratios(found) == pytest.approx(ratios(expected), rel=1e-12)


def test_a_joint_with_two_units_is_one_of_the_others_once() -> None:
    joint_no, unit = np.array([0, 1, 1, 2, 3]), np.array([0, 0, 1, 1, 2])
    day = np.array([100, 200, 200, 300, 400])
    pool = Pool("total", "stem", ("A", "B", "C"), np.zeros(3, bool), joint_no, unit, day, day == 200, day * 0)
    rates = rates_of(pool, WINDOWS[0])
    assert pool.several == 1
    assert (rates.other_years * 365.25).round().tolist() == [700, 500, 600]
    assert rates.other_revised.tolist() == [0, 0, 1]


def test_events_over_those_due_are_drawn_towards_each_other_and_none_is_left_out(flchain: Pool) -> None:
    found = hazards_of(flchain, WINDOWS[0], np.ones(10, bool), 1.25)
    drawn = [one for one in drawn_ratios([found], 1.25)[0] if one is not None]
    assert len(drawn) == 10
    raw = np.array(ratios(found))
    shrunk = np.array([one.ratio for one in drawn])
    middle = shrunk.mean()
    assert np.all(np.abs(shrunk - middle) <= np.abs(raw - middle) + 0.02)
    assert drawn[9].probability > 0.999 > 0.001 > drawn[0].probability


def ratio_of(events: int, due: float) -> ScreenedRatio:
    ratio = wald_ratio("A", log(max(events, 1) / due), 1 / sqrt(max(events, 1)), 0.95)
    return ScreenedRatio(100, events, due, ratio, due, 0.5)


def test_a_label_says_nothing_unusual_only_where_a_high_ratio_is_ruled_out() -> None:
    assert label(SETTINGS, ratio_of(90, 40.0), 0.01, 0.95) == LOOK_CLOSER
    assert label(SETTINGS, ratio_of(40, 40.0), 1.0, 0.95) == NOTHING_UNUSUAL
    assert label(SETTINGS, ratio_of(4, 4.0), 1.0, 0.95) == TOO_FEW  # its upper limit is 2.7
    assert label(SETTINGS, None, None, 0.95) == TOO_FEW
    # Without events the exact upper limit of a Poisson count of none is 3.689 (Garwood 1936).
    none = replace(ratio_of(0, 2.0), ratio=replace(ratio_of(0, 2.0).ratio, upper=None))
    assert upper_limit(none, 0.95) == pytest.approx(3.6889 / 2, rel=1e-4)
    assert label(SETTINGS, none, 1.0, 0.95) == NOTHING_UNUSUAL


def test_q_runs_over_all_pools_and_windows_and_false_signals_are_its_share() -> None:
    from scipy.stats import false_discovery_control

    pools = pools_of(simulate(6_000, seed=4))
    found = screen(pools, SETTINGS, WINDOWS, 0.95)
    tested = [one for one in found.findings if one.hazard is not None]
    assert len(tested) == found.tests > 50
    p = [one.hazard.p_higher for one in tested if one.hazard is not None]
    assert [one.q for one in tested] == pytest.approx(false_discovery_control(p, method="bh").tolist())
    assert found.expected_false == pytest.approx(0.05 * len(found.signals))
    assert {one.window.label for one in found.findings if one.hazard is None} == {ALL}
    units = {(one.joint_class, one.role, one.code) for one in tested}
    assert found.not_tested == sum(len(pool.codes) for pool in pools) - len(units)
    assert min(one.joints for one in found.findings if one.window.whole) >= SETTINGS.minimum_joints


def test_planted_implants_of_a_register_of_60_000_joints_are_signals_and_late_ones_only_late() -> None:
    """The register's own truths: 2.5 times the hazard from the start, 3 times it after five years."""
    register = simulate(60_000, seed=1)
    found = screen(pools_of(register), SETTINGS, WINDOWS, 0.95)
    signals = {(one.code, one.window.label) for one in found.signals if one.joint_class == "total"}
    start, late = (planted_code(register, kind) for kind in ("poor from the start", "poor after five years"))
    assert {(start, ALL), (late, "5..")} <= signals
    assert not {(late, "0..1"), (late, "1..5")} & signals
    (whole,) = [one for one in found.findings if (one.code, one.window.label) == (start, ALL)]
    assert whole.drawn is not None
    assert whole.drawn.probability > 0.99
    assert found.findings[0].code[2:] in (start[2:], late[2:])


WELL = replace(
    KNEE.frailty, hospital=0, surgeon=0, implant=0, poor_hospitals=(2, 1.0), poor_surgeons=(3, 1.0), poor_implants=()
)


@pytest.mark.slow
def test_a_register_in_which_nobody_is_poor_has_a_signal_in_a_share_q_of_seeds_at_most() -> None:
    """No frailty and nothing planted: any signal is false. Tolerance: what chance makes of q, at 99.9 %."""
    parameters = replace(KNEE, frailty=replace(WELL, poor_lot=None))
    false = 0
    for seed in range(10):
        found = screen(pools_of(simulate(30_000, seed, parameters=parameters)), SETTINGS, WINDOWS, 0.95)
        assert found.tests > 200
        false += len(found.signals) > 0
    assert false <= binom.ppf(0.999, 10, SETTINGS.q)


@pytest.mark.slow
@pytest.mark.parametrize("poor", [0, 8])
def test_the_mean_share_of_false_signals_is_at_most_q_at_the_hardest_truth(poor: int) -> None:
    """
    Half of the units have the very ratio that is stated: a signal of one of them is false. Some are poor.

    Source: Benjamini & Hochberg (1995), theorem 1. Tolerance: three standard errors of the mean over seeds.
    """
    random, shares = np.random.default_rng(17), []
    for _ in range(60):
        pool, ratio = made(random, poor)
        false = {code for code, true in zip(pool.codes, ratio.tolist(), strict=True) if true <= BORDER}
        settings = replace(SETTINGS, stated_ratio=BORDER)
        signals = [one.code for one in screen([pool], settings, WINDOWS, 0.95).signals]
        shares.append(sum(code in false for code in signals) / max(len(signals), 1))
        assert poor == 0 or len(set(signals) - false) >= 1
    error = np.std(shares) / np.sqrt(len(shares))
    assert np.mean(shares) <= SETTINGS.q + 3 * max(error, 0.01)


BORDER = 1.25


def made(random: np.random.Generator, poor: int, joints: int = 12_000, units: int = 80) -> tuple[Pool, np.ndarray]:
    """
    Joints of many units of all sizes, and the true ratio of each unit to all others.

    The last third of the joints has one unit that is large and ordinary; strata differ between units.
    """
    hazard = np.where(np.arange(units) < poor, 4.0, np.where(np.arange(units) % 2 == 0, BORDER, 1.0))
    unit = random.choice(units - 1, joints, p=random.dirichlet(np.full(units - 1, 0.7)))
    unit[2 * joints // 3 :] = units - 1
    stratum = (random.random(joints) * (1 + unit % 5)).astype(int)
    # Who is at the border is so against all others together, whose mean hazard is above 1.
    size = np.bincount(unit, minlength=units)
    for _ in range(20):
        others = ((hazard * size).sum() - hazard * size) / (joints - size)
        hazard = np.where(hazard == 4.0, hazard, np.where(np.arange(units) % 2 == 0, BORDER * others, hazard))
    true = hazard / (((hazard * size).sum() - hazard * size) / (joints - size))
    rate = 0.00002 * (1 + stratum) * hazard[unit]
    fails, ends = random.exponential(1 / rate), random.integers(0, 5000, joints)
    codes, day = tuple(f"U{number}" for number in range(units)), np.minimum(fails, ends).astype(int)
    pool = Pool("total", "femoral", codes, np.zeros(units, bool), np.arange(joints), unit, day, fails <= ends, stratum)
    return pool, true.round(6)


@pytest.mark.slow
def test_the_exact_p_of_a_unit_holds_its_level_where_few_events_are_expected() -> None:
    """One unit of which 3 events are due, at exactly the stated ratio: a p of 1 % comes in at most 1 % of registers."""
    random, hits, registers = np.random.default_rng(23), 0, 3_000
    window = windows_of(())[0]
    for _ in range(registers):
        unit = (np.arange(900) < 60).astype(int)
        fails = random.exponential(1 / (0.00003 * np.where(unit, 1.5, 1.0)))
        day = np.minimum(fails, 1500).astype(int)
        pool = Pool("t", "f", ("A", "B"), np.zeros(2, bool), np.arange(900), unit, day, fails <= 1500, unit * 0)
        found = hazards_of(pool, window, np.array([False, True]), 1.5)[1]
        hits += found is not None and found.p_higher <= 0.01
    assert binomtest(hits, registers, 0.01, alternative="greater").pvalue > 0.001
