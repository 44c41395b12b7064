"""Direct standardisation against exact fractions, and against all ways to spread risk over strata."""

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from regdash.errors import CountError
from regdash.stats.aalen_johansen import aalen_johansen
from regdash.stats.kaplan_meier import kaplan_meier
from regdash.stats.limits import RiskAt, risk_limits
from regdash.stats.standardised_risk import standardised_risk
from regdash.stats.step_curve import StepCurve
from tests.stats import plain
from tests.stats.cases import counts_of
from tests.stats.finite import assert_finite

Joints = list[tuple[int, int]]
strata_of_joints = st.lists(
    st.lists(st.tuples(st.integers(0, 6), st.integers(0, 2)), min_size=1, max_size=12), min_size=1, max_size=3
)
shares = st.lists(st.integers(0, 5), min_size=3, max_size=3)


def net(joints: Joints) -> StepCurve:
    counts = counts_of(joints)
    return kaplan_meier(counts.days, counts.revised, counts.left).steps


def mixed(strata: list[Joints], population: list[int], day: int, fewest: int = 1) -> RiskAt:
    names = [f"stratum {number}" for number in range(len(strata))]
    (found,) = standardised_risk([net(joints) for joints in strata], population, names, [day], fewest)
    return found


@given(strata_of_joints, shares, st.integers(0, 6))
def test_risk_and_variance_are_mixed_from_the_strata(strata: list[Joints], population: list[int], day: int) -> None:
    population = population[: len(strata)]
    if not any(population):
        population[0] = 1
    found = mixed(strata, population, day)
    assert_finite(found)
    used = [(Fraction(share, sum(population)), joints) for joints, share in zip(strata, population) if share]
    if not all(any(last >= day for last, _ in joints) for _, joints in used):
        assert found.risk is None
        assert "0 at risk on this day" in str(found.note)
        return
    assert found.at_risk == sum(last >= day for _, joints in used for last, _ in joints)
    assert found.events == sum(last <= day and how == 2 for _, joints in used for last, how in joints)
    free = [plain.event_free(joints, {2}, day) for _, joints in used]
    risk = 1 - float(sum(share * part for (share, _), part in zip(used, free)))
    assert_allclose(found.risk, risk, rtol=1e-12, atol=1e-15)
    if any(part == 0 for part in free):
        assert (found.lower, found.upper) == (None, None)
    elif risk:
        censored = [[(last, how if how == 2 else 0) for last, how in joints] for _, joints in used]
        variances = [plain.incidence_variance(joints, 2, {2}, day) for joints in censored]
        se = float(sum(share**2 * variance for (share, _), variance in zip(used, variances))) ** 0.5
        limits = risk_limits(np.array([risk]), np.array([se]), np.array([found.at_risk]))
        assert_allclose([found.lower, found.upper], [limit[0] for limit in limits], rtol=1e-9, atol=1e-12)
    else:
        assert found.lower == 0 < found.upper < 1


def test_one_stratum_is_itself_whatever_its_share() -> None:
    joints = [(1, 2), (2, 0), (3, 2), (4, 0), (9, 0)]
    curve = net(joints)
    for share in (1, 0.01, 5000):
        found = standardised_risk([curve], [share], ["all"], [0, 2, 3, 4], 1)
        for one, own in zip(found, curve.at([0, 2, 3, 4]), strict=True):
            assert_allclose([one.risk, one.lower, one.upper], [own.risk, own.lower, own.upper], rtol=1e-12)


def test_a_group_mixed_as_it_is_itself_has_its_own_risk_while_nobody_is_censored() -> None:
    young, old = [(1, 2)] * 3 + [(9, 0)] * 7, [(2, 2)] * 2 + [(9, 0)] * 38
    found = mixed([young, old], [10, 40], 5)
    assert_allclose(found.risk, 5 / 50, rtol=1e-14)
    turned = mixed([young, old], [40, 10], 5)
    assert_allclose(turned.risk, 0.8 * 0.3 + 0.2 * 0.05, rtol=1e-14)


def test_incidence_of_one_cause_is_mixed_like_net_risk() -> None:
    strata = [[(1, 2), (2, 1), (9, 0), (9, 0)], [(1, 1), (3, 2), (9, 0), (9, 0), (9, 0)]]
    curves = []
    for joints in strata:
        counts = counts_of(joints)
        curves.append(aalen_johansen(counts.days, counts.competing, counts.left).of(1))
    (found,) = standardised_risk(curves, [1, 1], ["a", "b"], [5], 1)
    exact = [float(plain.incidence(joints, 2, {1, 2}, 5)) for joints in strata]
    assert_allclose(found.risk, sum(exact) / 2, rtol=1e-14)


def test_too_few_at_risk_in_one_stratum_refuse_all_and_name_it() -> None:
    strata = [[(9, 0)] * 100, [(1, 2)] + [(9, 0)] * 10]
    found = mixed(strata, [100, 1], 5, fewest=20)
    assert (found.risk, found.lower, found.upper) == (None, None, None)
    assert found.note == "stratum stratum 1 has 10 at risk on this day, fewer than 20"
    assert mixed(strata, [100, 0], 5, fewest=20).risk == 0


@pytest.mark.parametrize(
    ("mix", "at_risk"), [([5, 3, 2], [10, 40, 3]), ([1, 1, 1], [7, 7, 7]), ([98, 1, 1], [900, 2, 50])]
)
def test_without_events_the_limit_is_the_highest_risk_that_could_have_hidden(
    mix: list[int], at_risk: list[int]
) -> None:
    """Against 200,000 ways to spread risk over strata that leave no event a chance of 2.5 %."""
    found = mixed([[(9, 0)] * many for many in at_risk], mix, 5)
    share, size = np.array(mix) / sum(mix), np.array(at_risk)
    spent = np.random.default_rng(1).dirichlet(np.full(3, 0.5), 200_000) * -np.log(0.025)
    hidden = -np.expm1(-spent / size) @ share
    assert hidden.max() <= found.upper
    assert_allclose(found.upper, hidden.max(), rtol=0.002)


def test_a_population_of_nobody_or_of_other_strata_is_refused() -> None:
    curve = net([(1, 2), (9, 0)])
    for population, names in (([0, 0], ["a", "b"]), ([1], ["a", "b"]), ([1, 1], ["a"])):
        with pytest.raises(CountError, match="needs joints"):
            standardised_risk([curve, curve], population, names, [5], 1)
    with pytest.raises(CountError, match="below 0"):
        standardised_risk([curve], [-1], ["a"], [5], 1)
