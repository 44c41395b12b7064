"""Observed over expected, against R, published examples and joints counted day by day."""

from random import Random

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from regdash.errors import CountError
from regdash.stats.against_others import ratios_against_others
from regdash.stats.cox import cox
from regdash.stats.cox_counts import PatternCounts
from regdash.stats.reference_hazard import hazard_of, model_hazard, rates_of
from regdash.stats.screened import screened_hazard_ratios
from regdash.stats.standardised_ratio import UnitRatio, standardised_ratio, standardised_ratios
from tests.stats.cases import rows_of, values_of
from tests.stats.cox_cases import column, counts_of_rows, numbers
from tests.stats.finite import assert_finite
from tests.stats.unit_cases import (
    NAMES,
    UNITS,
    UnitJoint,
    expected_of,
    hazard_on,
    some_joints,
    unit_counts,
    unit_of_pattern,
)


def test_ratios_from_a_cox_model_are_those_of_r() -> None:
    """
    R 4.2.2, survival 3.5-3: expected is d - residuals(coxph(Surv(time, d) ~ age + factor(sex), lung, ties =
    "breslow"), "martingale"), added up by institution; limits of poisson.test.
    """
    rows = [row for row in rows_of("data_lung") if row["inst"] != "NA"]
    design, counts = numbers(rows, "age", "sex"), counts_of_rows(column(rows, "time"), column(rows, "status") - 1)
    fit = cox(counts, design, "breslow")
    expected = rows_of("standardised_ratio_cox_lung")
    unit = np.array([[row["inst"] for row in expected].index(one["inst"]) for one in rows])
    names = [row["inst"] for row in expected]
    found = standardised_ratios(counts, unit, names, model_hazard(fit), fit.hazards(design))
    assert [one.joints for one in found] == [int(row["n"]) for row in expected]
    for one, row in zip(found, expected, strict=True):
        assert (one.name, one.ratio.observed, one.events_left_out) == (row["inst"], int(row["observed"]), 0)
        values = [one.ratio.expected, one.ratio.ratio, one.ratio.lower, one.ratio.upper, one.ratio.p_higher]
        columns = ("expected", "ratio", "lower", "upper", "p_upper")
        assert_allclose(values, [float(row[column]) for column in columns], rtol=1e-8)
        assert_allclose(one.ratio.p_lower, float(row["p_lower"]), rtol=1e-8)
    assert_allclose(sum(one.ratio.expected for one in found), sum(one.ratio.observed for one in found), rtol=1e-10)


def test_ratios_from_rates_of_strata_are_those_of_r() -> None:
    """R: expected is the rate by sex and age (50-59, 60-69, 70-79, 80 and over) × follow-up of the unit."""
    rows = rows_of("data_flchain")
    age, sex = column(rows, "age"), np.array([row["sex"] == "M" for row in rows])
    stratum = np.searchsorted([60, 70, 80], age, side="right") * 2 + sex
    group = column(rows, "flc.grp").astype(int) - 1
    pattern = group * 8 + stratum
    counts = PatternCounts(80, pattern, column(rows, "futime"), column(rows, "death"), stratum=np.arange(80) % 8)
    names = [str(number) for number in range(1, 11)]
    found = standardised_ratios(counts, np.arange(80) // 8, names, rates_of(counts))
    expected = rows_of("standardised_ratio_rates_flchain")
    for column_name in ("observed", "expected", "ratio", "lower", "upper"):
        values = [getattr(one.ratio, column_name) for one in found]
        assert_allclose(values, values_of(expected, column_name), rtol=1e-10)
    by_window = standardised_ratios(counts, np.arange(80) // 8, names, rates_of(counts, [90, 365, 1826]))
    assert_allclose(sum(one.ratio.expected for one in by_window), 2169, rtol=1e-12)


def test_published_ratios_have_the_published_limits() -> None:
    """Nickel workers, Breslow & Day (1987), as R's help page of poisson.test quotes them: 137 of 24.19893."""
    found = standardised_ratio(137, 24.19893)
    assert_allclose([found.ratio, found.lower, found.upper], [5.661407, 4.753124805, 6.692709334], rtol=1e-7)
    found = standardised_ratio(30, 15.21)
    assert_allclose([found.lower, found.upper], [1.330760948, 2.815704497], atol=6e-10)


def test_the_upper_p_includes_what_was_seen() -> None:
    """P(X >= 4 | 1) = 1 - (1 + 1 + 1/2 + 1/6) / e; leaving 4 itself out would make it a fifth of that."""
    found = standardised_ratio(4, 1.0)
    assert_allclose(found.p_higher, 1 - (1 + 1 + 1 / 2 + 1 / 6) / np.e, rtol=1e-13)
    assert_allclose(found.p_lower, (1 + 1 + 1 / 2 + 1 / 6 + 1 / 24) / np.e, rtol=1e-13)
    assert standardised_ratio(0, 1.0).p_higher == 1


def by_units(joints: list[UnitJoint], found: tuple[UnitRatio, ...]) -> list[tuple[list[UnitJoint], UnitRatio]]:
    return [([one for one in joints if one.unit == unit], found[unit]) for unit in range(UNITS)]


@given(some_joints)
def test_expected_events_are_those_of_joints_counted_day_by_day(joints: list[UnitJoint]) -> None:
    """Every joint counts twice: in weights, all is doubled."""
    counts = unit_counts(joints)
    found = standardised_ratios(counts, unit_of_pattern(), NAMES, hazard_of(counts))
    for own, one in by_units(joints, found):
        assert_allclose(one.ratio.expected, 2 * float(expected_of(own, joints)), rtol=1e-12, atol=1e-13)
        assert (one.joints, one.ratio.observed) == (2 * len(own), 2 * sum(joint.event for joint in own))
    events = 2 * sum(joint.event for joint in joints)
    assert_allclose(sum(one.ratio.expected for one in found), events, rtol=1e-12, atol=1e-12)
    assert_finite(found)


@given(some_joints)
def test_rates_of_windows_expect_as_many_events_as_there_were(joints: list[UnitJoint]) -> None:
    counts = unit_counts(joints)
    found = standardised_ratios(counts, unit_of_pattern(), NAMES, rates_of(counts, [1, 4]))
    left_out = sum(one.events_left_out for one in found)
    assert sum(one.ratio.observed for one in found) + left_out == counts.events
    assert_allclose(
        sum(one.ratio.expected for one in found), sum(one.ratio.observed for one in found), rtol=1e-12, atol=1e-12
    )
    assert_finite(found)


@given(some_joints)
def test_against_others_is_measured_by_the_hazard_of_the_others_alone(joints: list[UnitJoint]) -> None:
    found = ratios_against_others(unit_counts(joints), unit_of_pattern(), NAMES)
    for unit, (own, one) in enumerate(by_units(joints, found)):
        others = [joint for joint in joints if joint.unit != unit]
        alone = [joint for joint in own if joint.event and hazard_on(others, joint.stratum, joint.stop) is None]
        assert one.events_left_out == 2 * len(alone)
        assert one.ratio.observed == 2 * (sum(joint.event for joint in own) - len(alone))
        assert_allclose(one.ratio.expected, 2 * float(expected_of(own, others)), rtol=1e-12, atol=1e-13)
    assert_finite(found)


@given(some_joints, st.integers(0, 10**6))
def test_order_of_rows_and_splitting_of_counts_change_nothing(joints: list[UnitJoint], seed: int) -> None:
    both = (unit_counts(joints), unit_counts(joints, Random(seed)))
    for one, other in zip(*(ratios_against_others(counts, unit_of_pattern(), NAMES) for counts in both)):
        assert (one.joints, one.ratio.observed) == (other.joints, other.ratio.observed)
        assert_allclose(one.ratio.expected, other.ratio.expected, rtol=1e-12, atol=1e-13)
    first, second = (standardised_ratios(each, unit_of_pattern(), NAMES, hazard_of(each)) for each in both)
    assert_allclose(
        [one.ratio.expected for one in first], [one.ratio.expected for one in second], rtol=1e-12, atol=1e-13
    )


@given(some_joints)
def test_a_reference_of_other_joints_leaves_out_what_it_does_not_know(joints: list[UnitJoint]) -> None:
    """Days 0 to 4 of stratum 0 are known; stratum 1 and later days are not."""
    known = [UnitJoint(0, 0, -1, 2, 1), UnitJoint(0, 0, -1, 4, 0)]
    reference = hazard_of(PatternCounts(1, [0, 0], [2, 4], [1, 0]))
    found = standardised_ratios(unit_counts(joints), unit_of_pattern(), NAMES, reference)
    for own, one in by_units(joints, found):
        inside = [joint for joint in own if joint.event and joint.stratum == 0 and joint.stop <= 4]
        assert one.ratio.observed == 2 * len(inside)
        assert one.events_left_out == 2 * sum(joint.event for joint in own) - one.ratio.observed
        assert_allclose(one.ratio.expected, 2 * float(expected_of(own, known)), atol=1e-13)


def test_expected_events_of_a_screen_are_the_same() -> None:
    random = np.random.default_rng(5)
    pattern, event = random.integers(0, 200, 5000), random.integers(0, 2, 5000)
    counts = PatternCounts(200, pattern, random.integers(0, 900, 5000), event, stratum=np.arange(200) % 10)
    unit, names = np.arange(200) // 10, [f"KF-{number:03}" for number in range(20)]
    found = standardised_ratios(counts, unit, names, hazard_of(counts))
    screened = screened_hazard_ratios(counts, unit, names)
    assert_allclose([one.ratio.expected for one in found], [one.expected for one in screened], rtol=1e-11)


def test_a_unit_of_which_nothing_is_expected_has_no_ratio_and_says_so() -> None:
    found = standardised_ratio(2, 0.0)
    assert (found.ratio, found.lower, found.upper, found.p_higher) == (None, None, None, None)
    assert "nothing is expected" in str(found.note)
    assert "fewer than 1" in str(standardised_ratio(2, 0.9).note)
    assert standardised_ratio(2, 1.0).note is None


def test_mid_p_limits_are_narrower_and_p_values_stay_exact() -> None:
    exact, half = standardised_ratio(12, 6.0), standardised_ratio(12, 6.0, mid_p=True)
    assert exact.lower < half.lower < half.upper < exact.upper
    assert exact.p_higher == half.p_higher


def test_what_does_not_fit_is_refused() -> None:
    counts = PatternCounts(2, [0, 1], [3, 4], [1, 0])
    with pytest.raises(CountError, match="a unit from 0 to 0"):
        standardised_ratios(counts, [0, 1], ["H001"], hazard_of(counts))
    with pytest.raises(CountError, match="relative hazard"):
        standardised_ratios(counts, [0, 0], ["H001"], hazard_of(counts), np.ones(3))
    with pytest.raises(CountError, match="below 0"):
        standardised_ratio(3, -1.0)
