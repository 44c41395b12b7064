"""Three verdicts on a risk against a ceiling or a benchmark."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from regdash.stats.ceiling import against_benchmark, against_ceiling
from regdash.stats.kaplan_meier import kaplan_meier
from regdash.stats.limits import ALL_HAD_IT, NO_FOLLOW_UP
from regdash.stats.step_curve import StepCurve
from tests.stats.cases import counts_of, joints_of, rows_of

Z95 = 1.959963984540054


def some_of(events: int, joints: int) -> StepCurve:
    return kaplan_meier(np.array([1, 5000]), np.array([events, 0]), np.array([events, joints - events])).steps


def colon(arm: str) -> StepCurve:
    counts = counts_of(joints_of(rows_of("data_colon_death", rx=arm), "time", "status", {"0": 0, "1": 2}))
    return kaplan_meier(counts.days, counts.revised, counts.left).steps


def test_a_ceiling_is_met_when_the_upper_limit_is_below_it_and_not_when_only_the_risk_is() -> None:
    """40 of 1,000: log-log limits 0.0295 to 0.0541, by hand 1 - 0.96 ** exp(±1.96 × 0.006455 / 0.040822)."""
    curve = some_of(40, 1000)
    found = [against_ceiling(curve, ceiling, 3652, 500) for ceiling in (0.055, 0.05, 0.03, 0.029)]
    assert [each.verdict for each in found] == ["met", "cannot say yet", "cannot say yet", "not met"]
    assert [each.why for each in found] == [
        "the upper limit is below the ceiling",
        "the limits include the ceiling",
        "the limits include the ceiling",
        "the lower limit is above the ceiling",
    ]
    assert_allclose([found[0].risk, found[0].lower, found[0].upper], [0.04, 0.0295, 0.0541], atol=6e-5)


def test_too_few_joints_at_risk_decide_nothing_however_good_they_look() -> None:
    found = against_ceiling(some_of(1, 400), 0.05, 3652, 500)
    assert (found.verdict, found.why) == ("cannot say yet", "399 joints at risk, fewer than the 500 asked for")
    assert against_ceiling(some_of(1, 400), 0.05, 3652, 399).verdict == "met"


def test_without_events_the_exact_bound_decides() -> None:
    """None of 100: the one-sided bound of 97.5 % is 0.0362 (Clopper & Pearson)."""
    assert against_ceiling(some_of(0, 100), 0.037, 3652, 40).verdict == "met"
    assert against_ceiling(some_of(0, 100), 0.036, 3652, 40).verdict == "cannot say yet"


def test_where_there_are_no_limits_there_is_no_verdict() -> None:
    after = against_ceiling(some_of(4, 100), 0.05, 6000, 0)
    assert (after.verdict, after.risk, after.why) == ("cannot say yet", None, NO_FOLLOW_UP)
    everybody = kaplan_meier(np.array([5]), np.array([9]), np.array([9])).steps
    assert against_ceiling(everybody, 0.05, 5, 0).why == ALL_HAD_IT


@pytest.mark.parametrize("row", rows_of("benchmark_difference_colon"), ids=lambda row: row["group"] + " " + row["time"])
def test_without_a_margin_the_excess_over_a_benchmark_is_the_difference_of_r(row: dict[str, str]) -> None:
    found = against_benchmark(colon(row["group"]), colon(row["benchmark"]), 0, int(row["time"]), 100)
    assert_allclose([found.excess.difference, found.excess.se], [float(row["diff"]), float(row["se"])], rtol=1e-10)
    assert_allclose(found.excess.upper, float(row["upper97.5_one_sided"]), rtol=1e-10)
    assert found.verdict == ("not met" if float(row["diff"]) > Z95 * float(row["se"]) else "cannot say yet")


def test_a_margin_counts_on_the_benchmark_and_on_its_error() -> None:
    """F - (1 + m) B, variance se² + (1 + m)² se_B²; from R's two risks, the errors binomial as nobody is censored."""
    curve, benchmark = some_of(60, 1500), some_of(90, 2000)
    found = against_benchmark(curve, benchmark, 0.5, 3652, 500)
    excess = 0.04 - 1.5 * 0.045
    se = np.sqrt(0.04 * 0.96 / 1500 + 2.25 * 0.045 * 0.955 / 2000)
    assert_allclose([found.excess.difference, found.excess.se], [excess, se], rtol=1e-12)
    assert_allclose([found.excess.lower, found.excess.upper], [excess - Z95 * se, excess + Z95 * se], rtol=1e-12)
    assert (found.verdict, found.at_risk) == ("met", (1440, 1910))
    verdicts = [against_benchmark(curve, benchmark, margin, 3652, 500).verdict for margin in (0, 0.2, 0.5, 1)]
    assert verdicts == ["cannot say yet", "cannot say yet", "met", "met"]
    assert against_benchmark(some_of(200, 1500), benchmark, 0.5, 3652, 500).verdict == "not met"


def test_both_the_group_and_its_benchmark_need_joints_at_risk() -> None:
    found = against_benchmark(some_of(60, 1500), some_of(9, 200), 0.5, 3652, 500)
    assert (found.verdict, found.why) == ("cannot say yet", "191 joints at risk, fewer than the 500 asked for")


def test_a_benchmark_without_events_is_not_taken_as_perfect() -> None:
    found = against_benchmark(some_of(3, 1000), some_of(0, 600), 0.2, 3652, 500)
    bound = 1.2 * (1 - 0.025 ** (1 / 600))
    assert_allclose(found.excess.lower, 0.003 - np.hypot(Z95 * np.sqrt(0.003 * 0.997 / 1000), bound), rtol=1e-9)
    assert found.verdict == "cannot say yet"


@pytest.mark.parametrize("ceiling", [0, 1, 5, float("nan")])
def test_a_ceiling_that_is_no_proportion_is_refused(ceiling: float) -> None:
    with pytest.raises(ValueError, match="lies between 0 and 1"):
        against_ceiling(some_of(1, 100), ceiling, 365, 40)


@pytest.mark.parametrize("margin", [-0.1, float("nan"), float("inf")])
def test_a_margin_that_is_none_is_refused(margin: float) -> None:
    with pytest.raises(ValueError, match="0 or more"):
        against_benchmark(some_of(1, 100), some_of(1, 100), margin, 365, 40)
