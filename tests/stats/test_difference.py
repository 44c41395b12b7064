"""Differences and ratios of risks against R and published examples."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from regdash.stats.aalen_johansen import aalen_johansen
from regdash.stats.difference import (
    NONE_IN_EITHER,
    NONE_IN_ONE_GROUP,
    RATIO_NEEDS_EVENTS,
    risk_difference,
    risk_ratio,
)
from regdash.stats.kaplan_meier import kaplan_meier
from regdash.stats.limits import ALL_HAD_IT, NO_FOLLOW_UP
from regdash.stats.step_curve import StepCurve
from tests.stats.cases import counts_of, joints_of, rows_of

Z95 = 1.959963984540054

some_joints = st.lists(st.tuples(st.integers(0, 6), st.sampled_from([0, 2])), min_size=1, max_size=25)


def curve_of(joints: list[tuple[int, int]]) -> StepCurve:
    counts = counts_of(joints)
    return kaplan_meier(counts.days, counts.revised, counts.left).steps


def colon(arm: str) -> StepCurve:
    return curve_of(joints_of(rows_of("data_colon_death", rx=arm), "time", "status", {"0": 0, "1": 2}))


def some_of(events: int, joints: int) -> StepCurve:
    """Joints of which some have the event on day 1, the rest followed for long."""
    return curve_of([(1, 2)] * events + [(999, 0)] * (joints - events))


def rounded(digits: int, *values: float | None) -> list[float | None]:
    return [None if value is None else round(value, digits) for value in values]


@pytest.mark.parametrize("row", rows_of("benchmark_difference_colon"), ids=lambda row: row["group"] + " " + row["time"])
def test_differences_standard_errors_and_upper_limits_are_those_of_r(row: dict[str, str]) -> None:
    arms = colon(row["group"]), colon(row["benchmark"])
    (found,) = risk_difference(*arms, [int(row["time"])])
    risks = [float(row[name]) for name in ("fail_group", "fail_benchmark", "diff", "se")]
    assert_allclose([found.first, found.second, found.difference, found.se], risks, rtol=1e-10)
    assert_allclose(found.upper, float(row["upper97.5_one_sided"]), rtol=1e-10)
    assert_allclose(found.lower, risks[2] - Z95 * risks[3], rtol=1e-9)
    assert_allclose(
        risk_difference(*arms, [int(row["time"])], 0.9)[0].upper, float(row["upper95_one_sided"]), rtol=1e-10
    )


def test_without_censoring_a_published_difference_and_ratio_come_out() -> None:
    """
    Myocardial infarction in 189 of 11,034 physicians on placebo and 104 of 11,037 on aspirin: difference 0.008
    (0.005 to 0.011), ratio 1.82 (1.43 to 2.31). Agresti, Categorical Data Analysis, section 3.1; from memory.
    """
    placebo, aspirin = some_of(189, 11_034), some_of(104, 11_037)
    (difference,), (ratio,) = risk_difference(placebo, aspirin, [60]), risk_ratio(placebo, aspirin, [60])
    assert rounded(3, difference.difference, difference.lower, difference.upper) == [0.008, 0.005, 0.011]
    assert rounded(2, ratio.ratio, ratio.lower, ratio.upper) == [1.82, 1.43, 2.31]


def test_without_censoring_the_ratio_has_the_limits_of_katz() -> None:
    """Katz et al. (1978), Biometrics 34:469-474: variance of the log ratio 1/a - 1/m + 1/b - 1/n."""
    (found,) = risk_ratio(some_of(12, 80), some_of(9, 150), [2])
    width = Z95 * np.sqrt(1 / 12 - 1 / 80 + 1 / 9 - 1 / 150)
    assert_allclose([found.lower, found.upper], 2.5 * np.exp([-width, width]), rtol=1e-12)


def test_a_group_without_events_has_the_exact_bound_on_its_side_of_the_limits() -> None:
    none, some = some_of(0, 50), some_of(10, 100)
    bound = 1 - 0.025 ** (1 / 50)
    (found,) = risk_difference(some, none, [5])
    reach = Z95 * np.sqrt(0.1 * 0.9 / 100)
    assert_allclose([found.difference, found.lower, found.upper], [0.1, 0.1 - np.hypot(reach, bound), 0.1 + reach])
    assert (found.se, found.note) == (None, NONE_IN_ONE_GROUP)
    assert risk_ratio(some, none, [5])[0].note == risk_ratio(none, some, [5])[0].note == RATIO_NEEDS_EVENTS


def test_two_groups_without_events_differ_by_0_within_their_exact_bounds() -> None:
    (found,) = risk_difference(some_of(0, 50), some_of(0, 80), [5])
    expected = [0, 0.025 ** (1 / 80) - 1, 1 - 0.025 ** (1 / 50)]
    assert_allclose([found.difference, found.lower, found.upper], expected)
    assert (found.se, found.note) == (None, NONE_IN_EITHER)


def test_where_nobody_is_followed_or_everybody_had_the_event_nothing_is_made_up() -> None:
    some, all_of_them = some_of(3, 10), curve_of([(1, 2), (4, 2)])
    (after,) = risk_difference(some, some_of(1, 4), [1000])
    assert (after.difference, after.lower, after.upper, after.note) == (None, None, None, NO_FOLLOW_UP)
    (end,) = risk_difference(all_of_them, some, [4])
    assert (end.difference, end.se, end.lower, end.upper, end.note) == (0.7, None, None, None, ALL_HAD_IT)
    (ratio,) = risk_ratio(all_of_them, some, [4])
    assert (ratio.lower, ratio.upper, ratio.note) == (None, None, ALL_HAD_IT)
    assert ratio.ratio == pytest.approx(1 / 0.3)


def test_a_covariance_between_the_groups_narrows_the_limits() -> None:
    one, other = some_of(30, 100), some_of(20, 100)
    (apart,), (shared,) = risk_difference(one, other, [5]), risk_difference(one, other, [5], covariance=[0.001])
    assert_allclose((shared.se or 0) ** 2, (apart.se or 0) ** 2 - 0.002, rtol=1e-12)
    assert_allclose((shared.upper or 0) - 0.1, Z95 * (shared.se or 0), rtol=1e-12)


def test_incidences_of_a_reason_are_compared_in_the_same_way() -> None:
    """Without censoring the incidence of a reason is a binomial proportion."""
    one = aalen_johansen(np.array([1, 9]), np.array([[3, 7], [0, 0]]), np.array([10, 40])).of(1)
    other = aalen_johansen(np.array([1, 9]), np.array([[5, 4], [0, 0]]), np.array([9, 91])).of(1)
    (found,) = risk_difference(one, other, [3])
    assert_allclose([found.difference, found.se], [0.1, np.sqrt(0.14 * 0.86 / 50 + 0.04 * 0.96 / 100)], rtol=1e-12)


@given(some_joints, some_joints)
def test_groups_changing_places_turn_the_difference_and_the_ratio_over(
    first: list[tuple[int, int]], second: list[tuple[int, int]]
) -> None:
    one, other = curve_of(first), curve_of(second)
    for there, back in zip(risk_difference(one, other, range(8)), risk_difference(other, one, range(8)), strict=True):
        assert (there.difference is None) == (back.difference is None)
        if there.lower is not None:
            assert there.lower <= there.difference <= there.upper
            turned = [-back.difference, -back.upper, -back.lower]
            assert_allclose([there.difference, there.lower, there.upper], turned, atol=1e-15)
    for there, back in zip(risk_ratio(one, other, range(8)), risk_ratio(other, one, range(8)), strict=True):
        if there.lower is not None:
            turned = [1 / back.upper, 1 / back.ratio, 1 / back.lower]
            assert_allclose([there.lower, there.ratio, there.upper], turned, rtol=1e-9)
