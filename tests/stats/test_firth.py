"""Firth's penalty against closed forms and a plain penalised likelihood, worked out joint by joint."""

from math import erfc, exp, log, sqrt

import numpy as np
import pytest
from hypothesis import given, settings
from numpy.testing import assert_allclose

from regdash.errors import ModelError
from regdash.stats.cox import cox
from regdash.stats.cox_counts import PatternCounts
from regdash.stats.design import Design, categorical, linear
from regdash.stats.firth import firth
from tests.stats import plain_cox
from tests.stats.cox_cases import counts_of_joints, veteran
from tests.stats.plain_cox import Joint
from tests.stats.test_cox_agrees import some_joints, some_ties

CHI_SQUARE_95 = 3.841458820694124


def one_day(of_old: int, of_new: int, old: int = 30, new: int = 20) -> PatternCounts:
    """All events on one day."""
    return PatternCounts(2, [0, 1, 0, 1], [5, 5, 9, 9], [1, 1, 0, 0], [of_old, of_new, old - of_old, new - of_new])


@pytest.mark.parametrize(("of_old", "of_new"), [(4, 7), (0, 5), (5, 0), (0, 1)])
def test_one_risk_set_adds_half_an_event_to_each_group(of_old: int, of_new: int) -> None:
    # With Breslow's ties one day is a logistic regression on its events; there the penalty adds 1/2 to each
    # count: Firth (1993), Biometrika 80:27-38, section 3.3.
    fit = firth(one_day(of_old, of_new), linear("new", [0, 1]), "breslow")
    ratio = fit.ratios()[0]
    assert_allclose(ratio.ratio, (of_new + 0.5) / 20 / ((of_old + 0.5) / 30), rtol=1e-9)
    a, b = of_new + 0.5, of_old + 0.5

    def drop(value: float) -> float:
        """Twice the fall of a log p + b log(1 - p) from its top; p: the chance that an event is of the new group."""
        p = 20 * value / (20 * value + 30)
        return 2 * (a * log(a / (a + b) / p) + b * log(b / (a + b) / (1 - p)))

    assert ratio.lower is not None
    assert ratio.upper is not None
    assert ratio.lower < ratio.ratio < ratio.upper  # type: ignore[operator]
    assert_allclose([drop(ratio.lower), drop(ratio.upper)], CHI_SQUARE_95, rtol=1e-8)
    # p is that of the fall to a ratio of 1, by the tail of chi-square on 1 degree of freedom: 2 (1 - Phi(root)).
    assert_allclose(ratio.p, erfc(sqrt(drop(1.0) / 2)), rtol=1e-8)


def penalised(joints: list[Joint], coef: list[float], ties: str) -> float:
    information = np.array(plain_cox.information(joints, coef, ties))
    return plain_cox.loglik(joints, coef, ties) + log(np.linalg.det(information)) / 2


@given(some_joints, some_ties)
@settings(max_examples=60)
def test_the_top_is_that_of_the_plain_penalised_likelihood_separated_or_not(joints: list[Joint], ties: str) -> None:
    try:
        fit = firth(*counts_of_joints(joints), ties)  # type: ignore[arg-type]
    except ModelError:
        # Refused only where nothing is to learn: no events, or columns that are one.
        assert (
            not any(joint.event for joint in joints)
            or np.linalg.matrix_rank(np.array(plain_cox.information(joints, [0.0, 0.0], ties)), tol=1e-8) < 2
        )
        return
    top = fit.coef.tolist()
    at_top = penalised(joints, top, ties)
    assert_allclose(fit.loglik, at_top, atol=1e-8)
    width = 1e-4
    for k in range(2):
        for side in (-width, width):
            beside = [value + side * (number == k) for number, value in enumerate(top)]
            # No lower than a step beside it, up to what a parabola of rounding's width allows.
            assert penalised(joints, beside, ties) <= at_top + 1e-9
        up, down = ([v + s * (n == k) for n, v in enumerate(top)] for s in (width, -width))
        slope = (penalised(joints, up, ties) - penalised(joints, down, ties)) / (2 * width)
        assert_allclose(slope, 0, atol=1e-5)


def test_limits_lie_where_the_profile_has_fallen_as_far_as_chance_allows() -> None:
    days, x = [1, 2, 3, 4, 5, 6, 7, 8, 9, 9, 9, 9], [1, 0, 1, 1, 0, 1, 0, 1, 0, 0, 1, 0]
    z = [0.5, 1.0, 2.0, 0.0, 1.5, 2.5, 1.0, 0.0, 2.0, 1.0, 0.5, 0.0]
    joints = [Joint(day, day < 9, (float(a), b)) for day, a, b in zip(days, x, z, strict=True)]
    fit = firth(*counts_of_joints(joints))
    first = fit.ratios()[0]
    top = penalised(joints, fit.coef.tolist(), "efron")
    assert first.lower is not None
    assert first.upper is not None
    for limit in (log(first.lower), log(first.upper)):
        # The other coefficient by narrowing in on its best value.
        low, high = -6.0, 6.0
        while high - low > 1e-7:
            one, other = low + (high - low) / 3, high - (high - low) / 3
            better = penalised(joints, [limit, one], "efron") < penalised(joints, [limit, other], "efron")
            low, high = (one, high) if better else (low, other)
        assert_allclose(2 * (top - penalised(joints, [limit, low], "efron")), CHI_SQUARE_95, rtol=1e-6)


def test_with_many_events_the_penalty_moves_little_and_limits_are_nearly_wald_s() -> None:
    fit = veteran()
    pulled = firth(fit.counts, fit.asked)
    assert np.all(np.abs(pulled.coef - fit.coef) < 0.2 * fit.se)
    for ratio, other in zip(pulled.ratios(), fit.ratios(), strict=True):
        assert_allclose(log(ratio.lower or 0), log(other.lower or 0), atol=0.3 * (other.log_se or 0))
        assert_allclose(log(ratio.upper or 0), log(other.upper or 0), atol=0.3 * (other.log_se or 0))


def test_levels_and_references_without_events_have_finite_ratios() -> None:
    days = [1, 4, 7, 10, 13, 2, 5, 8, 99, 99, 99]
    pattern = [0, 0, 0, 0, 0, 1, 1, 1, 0, 1, 2]
    counts = PatternCounts(3, pattern, days, [day < 99 for day in days], [*[1] * 8, 15, 17, 20])
    design = categorical("bearing", np.arange(3), ("fixed", "mobile", "other"))
    assert cox(counts, design).left_out[0].name == "bearing=other"
    mobile, other = firth(counts, design).ratios()
    assert mobile.note is None
    assert other.ratio is not None
    assert other.lower is not None
    assert other.upper is not None
    assert 0 < other.lower < other.ratio < 0.3
    assert other.upper < 1
    # Seen from the level without events, everything else has more.
    turned = firth(counts, categorical("bearing", np.arange(3), ("fixed", "mobile", "other"), "other")).ratios()
    assert_allclose(turned[0].ratio, 1 / other.ratio, rtol=1e-8)
    assert_allclose([turned[0].lower, turned[0].upper], [1 / other.upper, 1 / other.lower], rtol=1e-6)


def test_the_unit_of_a_covariate_does_not_matter() -> None:
    fit = veteran()
    months = Design(fit.asked.names, fit.asked.terms, fit.asked.matrix * np.array([1, 1, 1, 1, 1, 12, 1]))
    age, other = (firth(fit.counts, design).coef[5] for design in (fit.asked, months))
    assert_allclose(other * 12, age, rtol=1e-8)
    assert exp(age) < 1


def test_what_cannot_be_estimated_is_refused() -> None:
    with pytest.raises(ModelError, match="None of 50 joints has the event"):
        firth(one_day(0, 0), linear("new", [0, 1]))
    with pytest.raises(ModelError, match="'again' says nothing that 'new' does not say already"):
        firth(one_day(2, 3), linear("new", [0, 1]).beside(linear("again", [2, 5])))
