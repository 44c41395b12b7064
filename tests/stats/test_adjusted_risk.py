"""Adjusted curves against lifelines, closed forms and a plain delta method."""

from math import exp, log, sqrt

import numpy as np
import pandas as pd
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from lifelines import CoxPHFitter
from numpy.testing import assert_allclose

from regdash.errors import ModelError
from regdash.stats.adjusted_risk import Population, adjusted_difference, adjusted_risk
from regdash.stats.cox import cox
from regdash.stats.cox_counts import PatternCounts
from regdash.stats.design import Design, categorical, linear
from regdash.stats.kaplan_meier import kaplan_meier
from regdash.stats.limits import NO_FOLLOW_UP
from tests.stats import plain_cox
from tests.stats.cox_cases import counts_of_rows, flchain, veteran
from tests.stats.plain_cox import Joint
from tests.stats.test_cox_agrees import fitted, some_joints

XY = (("x0", "x1"), ("x0", "x1"))


def test_a_predicted_risk_is_that_of_lifelines() -> None:
    # Without ties lifelines' baseline and ours are the same estimator.
    random = np.random.default_rng(4)
    x = np.stack([random.random(80) < 0.4, random.normal(size=80)], axis=1).astype(float)
    days, event = random.permutation(np.arange(1, 400, 4))[:80], random.random(80) < 0.7
    fit = cox(counts_of_rows(days, event), Design(*XY, x))
    rows = pd.DataFrame({"x0": x[:, 0], "x1": x[:, 1], "days": days, "event": event})
    other = CoxPHFitter().fit(rows, "days", "event", fit_options={"precision": 1e-12})
    asked = sorted(days)[10::25]  # lifelines draws lines between its days
    for pattern in ([0.0, 0.0], [1.0, -1.3]):
        expected = other.predict_survival_function(pd.DataFrame([pattern], columns=["x0", "x1"]), asked)
        found = adjusted_risk(fit, Population(Design(*XY, [pattern]))).at(asked)
        assert_allclose([1 - point.risk for point in found], expected.to_numpy()[:, 0], rtol=1e-6)  # type: ignore[operator]


def test_where_nothing_is_adjusted_the_error_is_that_of_the_cumulative_hazard() -> None:
    # Two groups with the same endings: the coefficient is 0, and halfway between them it moves nothing.
    days, event = [2, 3, 3, 5, 8, 9], [1, 1, 0, 1, 1, 0]
    counts = PatternCounts(2, [0] * 6 + [1] * 6, days * 2, event * 2)
    curve = adjusted_risk(cox(counts, linear("new", [0, 1]), "breslow"), Population(linear("new", [0.5])))
    hazard = variance = 0.0
    for day, risk, se in zip(curve.days.tolist(), curve.risk, curve.se, strict=True):
        d, n = 2 * days.count(day) - (day == 3) * 2, 2 * sum(other >= day for other in days)
        hazard, variance = hazard + d / n, variance + d / n**2  # Aalen's variance of Nelson's estimator
        assert_allclose([risk, se], [1 - exp(-hazard), exp(-hazard) * sqrt(variance)], rtol=1e-10)
    assert curve.events.tolist() == [2, 2, 2, 2]
    assert [point.at_risk for point in curve.at([0, 5, 9, 10])] == [12, 6, 2, 0]
    assert curve.at([10])[0].note == NO_FOLLOW_UP


def plain_risk(joints: list[Joint], coef: list[float], mix: list[tuple[Joint, float]], day: int) -> float:
    total = sum(share for _, share in mix)
    return sum(
        share
        / total
        * (
            1
            - exp(
                -plain_cox.cumulative_hazard(joints, coef, day, one.stratum)
                * exp(sum(b * x for b, x in zip(coef, one.x, strict=True)))
            )
        )
        for one, share in mix
    )


def plain_variance(joints: list[Joint], coef: np.ndarray, covariance: np.ndarray, mix: list, day: int) -> float:
    """Delta method with slopes by finite differences; a mix may have shares below 0, for a difference."""
    width, slope = 1e-5, np.zeros(2)
    for k in range(2):
        for side in (-width, width):
            beside = (coef + side * (np.arange(2) == k)).tolist()
            slope[k] += sum(sign * plain_risk(joints, beside, part, day) for part, sign in mix) / (2 * side)
    variance = float(slope @ covariance @ slope)
    for stratum in {joint.stratum for joint in joints}:
        squares = sum(
            term.times / plain_cox.denominator(joints, term, coef.tolist()) ** 2
            for term in plain_cox.terms_of(joints, "efron")
            if term.stratum == stratum and term.day <= day
        )
        hazard, moved = plain_cox.cumulative_hazard(joints, coef.tolist(), day, stratum), 0.0
        for part, sign in mix:
            total = sum(share for _, share in part)
            for one, share in part:
                if one.stratum == stratum:
                    relative = exp(float(coef @ np.array(one.x)))
                    moved += sign * share / total * relative * exp(-hazard * relative)
        variance += moved**2 * squares
    return variance


some_mix = st.lists(
    st.tuples(st.integers(0, 1), st.integers(0, 2), st.integers(0, 1), st.integers(1, 5)), min_size=1, max_size=4
)


@given(some_joints, some_mix, some_mix)
@settings(max_examples=40)
def test_mean_risks_and_their_differences_are_the_plain_ones(joints: list[Joint], one: list, other: list) -> None:
    fit = fitted(joints)
    assume(float(np.abs(fit.coef).max()) < 4)
    strata = {joint.stratum for joint in joints}
    mixes = [
        [(Joint(0, False, (float(a), float(b)), stratum=s), float(n)) for a, b, s, n in mix if s in strata]
        for mix in (one, other)
    ]
    assume(all(mixes))
    first, second = (
        Population(
            Design(*XY, [joint.x for joint, _ in mix]),
            np.array([share for _, share in mix]),
            np.array([joint.stratum for joint, _ in mix]),
        )
        for mix in mixes
    )
    days = [0, 2, 6]
    curve = adjusted_risk(fit, first, days)
    coef = fit.coef.tolist()
    assert_allclose(curve.risk, [plain_risk(joints, coef, mixes[0], day) for day in days], rtol=1e-8)
    expected = [plain_variance(joints, fit.coef, fit.covariance, [(mixes[0], 1)], day) for day in days]
    assert_allclose(curve.se**2, expected, rtol=1e-4, atol=1e-8)
    for found in adjusted_difference(fit, first, second, days):
        risks = [plain_risk(joints, coef, mix, found.day) for mix in mixes]
        assert_allclose(found.difference, risks[0] - risks[1], rtol=1e-8, atol=1e-12)
        both = [(mixes[0], 1), (mixes[1], -1)]
        variance = plain_variance(joints, fit.coef, fit.covariance, both, found.day)
        assert_allclose(found.se**2, variance, rtol=1e-4, atol=1e-8)
        assert_allclose(found.upper - found.difference, 1.959963984540054 * found.se, rtol=1e-9, atol=1e-12)


def test_averaged_over_its_own_joints_a_model_says_what_was_seen() -> None:
    # With 7,874 people the mean of predicted risks and 1 - Kaplan-Meier are nearly the same; day 0 included.
    fit = flchain()
    curve = adjusted_risk(fit, Population(fit.asked), [0, 365, 1826, 3652])
    days, _, events, left = fit.counts.by_day()
    seen = kaplan_meier(days, events, left).at([0, 365, 1826, 3652])
    assert_allclose(curve.risk, [point.risk for point in seen], rtol=0.02)
    assert curve.events.sum() == seen[-1].events


def test_a_level_without_events_has_no_risk_and_others_are_unmoved() -> None:
    counts = PatternCounts(3, [0, 1, 2, 0, 1], [3, 4, 9, 9, 9], [1, 1, 0, 0, 0], [2, 3, 9, 5, 4])
    design = categorical("bearing", np.arange(3), ("fixed", "mobile", "other"))
    fit = cox(counts, design)
    assert fit.left_out[0].name == "bearing=other"
    risks = [adjusted_risk(fit, Population(design.of(np.array([number])))).risk[-1] for number in range(3)]
    assert risks[2] == 0
    assert 0 < risks[0] < risks[1] or 0 < risks[1] < risks[0]
    assert_allclose(log(1 - risks[1]) / log(1 - risks[0]), exp(fit.coef[0]), rtol=1e-10)


def test_strata_are_followed_as_long_as_the_shortest() -> None:
    fit = veteran(by_cell=True)
    pattern = fit.asked.of(np.array([0, 0]))
    curve = adjusted_risk(fit, Population(pattern, stratum=np.array([0, 3])))
    last = [int(fit.counts.day[fit.counts.strata == stratum].max()) for stratum in (0, 3)]
    assert curve.at([min(last)])[0].risk is not None
    assert curve.at([min(last) + 1])[0].note == NO_FOLLOW_UP
    both = [adjusted_risk(fit, Population(fit.asked.of(np.array([0])), stratum=np.array([s]))) for s in (0, 3)]
    day = min(last)
    expected = np.mean([one.at([day])[0].risk for one in both])
    assert_allclose(curve.at([day])[0].risk, expected, rtol=1e-12)


def test_populations_that_the_model_does_not_know_are_refused() -> None:
    fit = veteran(by_cell=True)
    with pytest.raises(ModelError, match="column 'trt=2' is missing"):
        adjusted_risk(fit, Population(linear("karno", [60])))
    with pytest.raises(ModelError, match="needs a stratum that the model knows"):
        adjusted_risk(fit, Population(fit.asked.of(np.array([0])), stratum=np.array([9])))
    with pytest.raises(ModelError, match="needs joints"):
        adjusted_risk(fit, Population(fit.asked.of(np.array([0])), joints=np.array([0])))


@pytest.mark.slow
def test_limits_of_a_standardised_difference_cover_the_truth() -> None:
    # 500 registers, older joints more often in the first group: 25 ± 15 should miss (3 standard deviations).
    random, misses = np.random.default_rng(11), 0
    for _ in range(500):
        old = random.random(500) < 0.4
        new = random.random(500) < np.where(old, 0.7, 0.3)
        rate = np.exp(0.6 * old + 0.5 * new) / 2000
        fails, ends = random.exponential(1 / rate), random.integers(200, 2000, 500)
        stop = np.minimum(fails, ends).astype(int)
        fit = cox(counts_of_rows(stop, fails <= ends), Design(*XY, np.stack([old, new], axis=1)))
        mix = [Population(Design(*XY, np.stack([old, np.full(500, value)], axis=1))) for value in (1.0, 0.0)]
        (found,) = adjusted_difference(fit, mix[0], mix[1], [1000])
        risks = [1 - np.exp(-np.exp(0.6 * old + 0.5 * value) * 1001 / 2000) for value in (1, 0)]
        misses += not found.lower < float(np.mean(risks[0] - risks[1])) < found.upper
    assert 10 < misses < 40
