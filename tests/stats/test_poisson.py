"""Rates and rate ratios against R's exact tests and published limits."""

import subprocess
import sys
from math import comb, sqrt

import pytest
from numpy.testing import assert_allclose

from regdash.errors import CountError
from regdash.stats.poisson import poisson_limits, rate_ratio, revision_rate
from regdash.stats.years import years_in
from tests.stats.cases import counts_of, joints_of, rows_of, values_of


@pytest.mark.parametrize("conf", ["0.9", "0.95", "0.98", "0.99", "0.998"])
def test_exact_limits_of_0_to_50_events_are_those_of_r(conf: str) -> None:
    expected = rows_of("poisson_limits", conf=conf)
    assert len(expected) == 51
    lower, upper = poisson_limits([int(row["x"]) for row in expected], float(conf))
    assert_allclose(lower, values_of(expected, "exact_lower"), rtol=1e-10)
    assert_allclose(upper, values_of(expected, "exact_upper"), rtol=1e-10)


@pytest.mark.parametrize("conf", ["0.9", "0.95", "0.98", "0.99", "0.998"])
def test_mid_p_limits_of_0_to_50_events_solve_what_r_solves(conf: str) -> None:
    """R: uniroot on ppois(x, m) - dpois(x, m) / 2, to 1e-13."""
    expected = rows_of("poisson_limits", conf=conf)
    lower, upper = poisson_limits([int(row["x"]) for row in expected], float(conf), mid_p=True)
    assert_allclose(lower, values_of(expected, "midp_lower"), rtol=1e-11)
    assert_allclose(upper, values_of(expected, "midp_upper"), rtol=1e-11)


def test_of_no_event_the_mid_p_limits_are_0_and_the_rule_of_three() -> None:
    """-log(0.05): half of the chance of none is 2.5 %. A lower limit of 2.9957, as one library has it, is an error."""
    found = revision_rate(0, 100.0, mid_p=True)
    assert found.lower == 0
    assert_allclose(found.upper, 2.995732273553991, rtol=1e-14)


def test_mid_p_limits_lie_within_the_exact_ones() -> None:
    events = [*range(60), 1000, 100_000, 10_000_000]
    for level in (0.5, 0.95, 0.999):
        (lower, upper), (inner_lower, inner_upper) = (poisson_limits(events, level, mid_p) for mid_p in (False, True))
        assert (lower[1:] < inner_lower[1:]).all()
        assert (inner_upper < upper).all()


@pytest.mark.parametrize("events", [10, 100, 10_000, 1_000_000])
def test_limits_of_many_events_come_near_byars_approximation(events: int) -> None:
    """Breslow & Day (1987); within 0.2 % of the exact limits from 10 events on."""
    lower, upper = poisson_limits([events])
    z = 1.959963984540054
    byar = [n * (1 - 1 / (9 * n) + sign * z / (3 * sqrt(n))) ** 3 for n, sign in ((events, -1), (events + 1, 1))]
    assert_allclose([lower[0], upper[0]], byar, rtol=0.002)


def test_none_of_any_gives_the_two_sided_upper_limit_not_the_rule_of_three() -> None:
    """3.688879 shares the 5 % between two tails; 2.995732 would be one-sided. Garwood (1936)."""
    found = revision_rate(0, 100.0)
    assert (found.per_100_years, found.lower) == (0, 0)
    assert_allclose(found.upper, 3.688879454114, atol=6e-13)


def test_30_observed_of_15_21_expected_has_the_published_limits() -> None:
    """Breslow & Day (1987): 1.33 to 2.82. Implant-years stand for expected events, hence the hundredth."""
    found = revision_rate(30, 15.21 * 100)
    assert_allclose([found.lower, found.upper], [1.330760948, 2.815704497], atol=6e-10)


@pytest.mark.parametrize("sex", ["F", "M"])
def test_rates_over_whole_follow_up_are_those_of_r(sex: str) -> None:
    counts = counts_of(joints_of(rows_of("data_flchain", sex=sex), "futime", "death", {"0": 0, "1": 2}))
    found = revision_rate(int(counts.revised.sum()), years_in(counts.implant_days))
    (expected,) = rows_of("pyears_flchain", stratum=f"sex={sex}")
    assert found.revised == int(expected["events"])
    assert_allclose(found.years, float(expected["years"]), rtol=1e-10)
    limits = [float(expected[column]) for column in ("rate100", "lower100", "upper100")]
    assert_allclose([found.per_100_years, found.lower, found.upper], limits, rtol=1e-10)


def test_a_rate_without_follow_up_is_undefined_and_says_so() -> None:
    found = revision_rate(1, 0.0)
    assert (found.per_100_years, found.lower, found.upper) == (None, None, None)
    assert "needs follow-up" in str(found.note)


@pytest.mark.parametrize("row", rows_of("poisson_rate_ratio"), ids=lambda row: row["label"])
def test_rate_ratios_are_those_of_r(row: dict[str, str]) -> None:
    found = rate_ratio(int(row["x1"]), float(row["t1"]), int(row["x2"]), float(row["t2"]))
    if row["ratio"] == "Inf":
        assert (found.ratio, found.upper) == (None, None)
        assert "no upper limit" in str(found.note)
    else:
        assert_allclose([found.ratio, found.upper], [float(row["ratio"]), float(row["upper"])], rtol=1e-10)
        assert found.note is None
    assert_allclose(found.lower, float(row["lower"]), rtol=1e-10)
    p_values = [float(row["p_greater"]), float(row["p_two_sided_doubled"])]
    assert_allclose([found.p_higher, found.p_two_sided], p_values, rtol=1e-10)


# OpenEpi (Dean, Sullivan & Soe), "Comparing 2 Person-Time Rates": two strata of one cohort and both together, as
# printed, to four digits; exact limits, mid-p limits, and one-sided p, exact and mid-p.
@pytest.mark.parametrize(
    ("counts", "exact", "mid_p", "p_values"),
    [
        ((8, 78531, 1, 77932), (1.064, 352.3), (1.27, 177.6), (0.02008, 0.01105)),
        ((25, 178556, 4, 200200), (2.42, 27.71), (2.616, 23.57), (0.00001462, 0.00000827)),
    ],
)
def test_mid_p_rate_ratios_are_the_printed_ones(
    counts: tuple[int, int, int, int],
    exact: tuple[float, float],
    mid_p: tuple[float, float],
    p_values: tuple[float, float],
) -> None:
    for found, limits, p in zip((rate_ratio(*counts), rate_ratio(*counts, mid_p=True)), (exact, mid_p), p_values):
        assert_allclose([found.lower, found.upper], limits, rtol=5e-4)
        assert_allclose(found.p_higher, p, rtol=5e-4)


@pytest.mark.parametrize(("a", "b"), [(3, 7), (0, 5), (5, 0), (1, 1), (40, 2)])
def test_at_a_mid_p_limit_half_of_what_was_seen_and_all_beyond_have_the_tails_chance(a: int, b: int) -> None:
    """Added up in fractions of the binomial, at the limits."""
    found = rate_ratio(a, 1000, b, 2500, mid_p=True)

    def tail(ratio: float, counts: range) -> float:
        share = ratio * 1000 / (ratio * 1000 + 2500)
        return sum(comb(a + b, k) * share**k * (1 - share) ** (a + b - k) * (0.5 if k == a else 1) for k in counts)

    if a:
        assert_allclose(tail(found.lower, range(a, a + b + 1)), 0.025, rtol=1e-11)
    else:
        assert found.lower == 0
    if b:
        assert_allclose(tail(found.upper, range(a + 1)), 0.025, rtol=1e-11)
    else:
        assert found.upper is None
    assert_allclose(found.p_higher, tail(1.0, range(a, a + b + 1)), rtol=1e-11)
    assert_allclose(found.p_two_sided, 2 * min(tail(1.0, range(a, a + b + 1)), tail(1.0, range(a + 1))), rtol=1e-11)


def test_mid_p_of_no_revision_at_all_says_nothing_either_way() -> None:
    found = rate_ratio(0, 100, 0, 200, mid_p=True)
    assert (found.ratio, found.p_higher, found.p_two_sided) == (None, 0.5, 1)


def test_two_groups_changing_places_turn_ratio_and_limits_over() -> None:
    for mid_p in (False, True):
        there = rate_ratio(40, 1000, 2000, 100_000, mid_p=mid_p)
        back = rate_ratio(2000, 100_000, 40, 1000, mid_p=mid_p)
        turned = [1 / (back.ratio or 0), 1 / (back.upper or 0), 1 / (back.lower or 0)]
        assert_allclose([there.ratio, there.lower, there.upper], turned, rtol=1e-12)
        assert_allclose(there.p_two_sided, back.p_two_sided, rtol=1e-11)


def test_the_limits_leave_out_1_exactly_when_the_doubled_p_is_small() -> None:
    for revised in range(60):
        found = rate_ratio(revised, 1000, 25, 1000)
        outside = found.lower > 1 or (found.upper is not None and found.upper < 1)
        assert outside == (found.p_two_sided < 0.05)


def test_a_p_far_in_the_tail_does_not_round_to_0() -> None:
    """P(X >= 200) for a binomial of 201 with share 1/2, added up in fractions."""
    found = rate_ratio(200, 1000, 1, 1000)
    assert_allclose(found.p_higher, (201 + 1) / 2**201, rtol=1e-10)


def test_two_groups_without_revisions_cannot_be_told_apart() -> None:
    found = rate_ratio(0, 100, 0, 200)
    assert (found.ratio, found.lower, found.upper, found.p_higher, found.p_two_sided) == (None, None, None, 1, 1)


@pytest.mark.parametrize(("years", "other_years"), [(0, 100), (100, 0)])
def test_a_ratio_without_follow_up_is_undefined_and_says_so(years: float, other_years: float) -> None:
    found = rate_ratio(1, years, 1, other_years)
    assert (found.ratio, found.lower, found.upper, found.p_higher, found.p_two_sided) == (None,) * 5
    assert "needs follow-up" in str(found.note)


def test_impossible_counts_years_and_levels_are_refused() -> None:
    with pytest.raises(CountError, match="below 0"):
        revision_rate(-1, 10)
    with pytest.raises(CountError, match="below 0"):
        rate_ratio(1, 10, -1, 10)
    for years in (-1, float("nan"), float("inf")):
        with pytest.raises(ValueError, match="0 or more"):
            revision_rate(1, years)
        with pytest.raises(ValueError, match="0 or more"):
            rate_ratio(1, 10, 1, years)
    with pytest.raises(ValueError, match="between 0 and 1"):
        revision_rate(1, 10, level=95)
    with pytest.raises(ValueError, match="between 0 and 1"):
        rate_ratio(1, 10, 1, 10, level=0)


def test_scipy_is_loaded_when_a_rate_is_asked_for_and_not_before() -> None:
    """It takes as long to load as all the rest together; a risk does without it, and scipy.stats never comes."""
    code = (
        "import sys, regdash.stats.aalen_johansen, regdash.stats.kaplan_meier, regdash.stats.events\n"
        "from regdash.stats.poisson import rate_ratio, revision_rate\n"
        "print('scipy' in sys.modules)\n"
        "revision_rate(1, 1), rate_ratio(1, 1, 1, 1)\n"
        "print('scipy.special' in sys.modules, 'scipy.stats' in sys.modules)\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.split() == ["False", "True", "False"]
