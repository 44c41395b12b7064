"""Cox's model on counts against a slow plain one, joint by joint, on made-up joints full of ties and late entries."""

from dataclasses import fields, is_dataclass
from itertools import product
from typing import Any

import numpy as np
import pytest
from hypothesis import assume, example, given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from regdash.errors import ModelError
from regdash.stats.adjusted_risk import Population, adjusted_risk
from regdash.stats.baseline import baseline_hazard
from regdash.stats.cox import CoxFit, cox
from regdash.stats.cox_counts import PatternCounts
from regdash.stats.cox_robust import robust_covariance
from regdash.stats.cox_tests import likelihood_ratio_test, score_test, wald_test
from regdash.stats.design import Design
from regdash.stats.events import Entries
from regdash.stats.firth import firth
from regdash.stats.incidence import Columns
from regdash.stats.partial_likelihood import PartialLikelihood, Ties
from regdash.stats.proportionality import proportionality
from regdash.stats.risk_sets import risk_sets
from regdash.stats.time_split import split_at
from tests.stats import plain_cox
from tests.stats.cox_cases import counts_of_joints
from tests.stats.plain_cox import Joint

# Few days and many joints: ties of every kind, events on day 0, entries on days with events.
a_joint = st.builds(
    lambda stop, gap, event, x, stratum, cluster: Joint(
        stop, event, (float(x[0]), float(x[1])), max(-1, stop - gap), stratum, cluster=cluster
    ),
    st.integers(0, 6),
    st.sampled_from([9, 9, 9, 1, 2, 3]),
    st.booleans(),
    st.tuples(st.integers(0, 1), st.integers(0, 2)),
    st.integers(0, 1),
    st.integers(0, 4),
)
some_joints = st.lists(a_joint, min_size=6, max_size=24)
some_ties = st.sampled_from(["efron", "breslow"])
some_coef = st.tuples(st.floats(-2, 2), st.floats(-2, 2)).map(list)


def fitted(joints: list[Joint], ties: Ties = "efron") -> CoxFit:
    """The fit, where these joints have one with both coefficients."""
    try:
        fit = cox(*counts_of_joints(joints), ties)
    except ModelError:
        fit = None
    assume(fit is not None and not fit.left_out)
    assert fit is not None
    return fit


def has_no_top(joints: list[Joint]) -> bool:
    """Whether some direction leads up, or level, for ever: no joint at risk goes before one that has its event."""
    pairs = [
        tuple(a - b for a, b in zip(one.x, other.x, strict=True))
        for one in joints
        if one.event
        for other in joints
        if other.stratum == one.stratum and other.start < one.stop <= other.stop
    ]
    # Differences are -1 to 1 by -2 to 2: directions between all their normals are among these.
    return any(
        all(a * p + b * q >= 0 for p, q in pairs) for a, b in product(range(-5, 6), repeat=2) if (a, b) != (0, 0)
    )


@given(some_joints, some_ties, some_coef)
@example([Joint(0, True, (0.0, 0.0)), Joint(0, True, (1.0, 2.0)), Joint(0, False, (1.0, 1.0))], "efron", [0.5, -1.0])
def test_likelihood_score_and_information_are_the_plain_ones(
    joints: list[Joint], ties: Ties, coef: list[float]
) -> None:
    assume(any(joint.event for joint in joints))
    counts, design = counts_of_joints(joints)
    for sets in both_roads(counts):
        likelihood = PartialLikelihood(sets, Columns(design.matrix), ties)
        point = likelihood.at(np.array(coef))
        assert_allclose(point.loglik, plain_cox.loglik(joints, coef, ties), rtol=1e-11, atol=1e-11)
        assert_allclose(likelihood.score(point), plain_cox.score(joints, coef, ties), rtol=1e-9, atol=1e-10)
        expected = plain_cox.information(joints, coef, ties)
        assert_allclose(likelihood.information(point)[0], expected, rtol=1e-9, atol=1e-10)


def both_roads(counts: PatternCounts) -> list[Any]:
    """The risk sets as a plain matrix, and as rows."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("regdash.stats.risk_sets._DENSE", 0)
        patch.setattr("regdash.stats.event_cells._fits", lambda size, rows: False)
        by_row = risk_sets(counts)
    dense = risk_sets(counts)
    assert (by_row.is_dense, dense.is_dense) == (False, True)
    return [by_row, dense]


@given(some_joints, some_ties)
def test_a_fit_is_where_the_plain_score_is_0_and_is_refused_only_where_there_is_none(
    joints: list[Joint], ties: Ties
) -> None:
    try:
        fit = cox(*counts_of_joints(joints), ties)
    except ModelError:
        assert not any(joint.event for joint in joints) or has_no_top(joints)
        return
    assert has_no_top(joints) == bool(fit.left_out)
    if fit.left_out:
        return
    coef = fit.coef.tolist()
    assert_allclose(plain_cox.score(joints, coef, ties), 0, atol=1e-7)
    assert_allclose(fit.covariance, np.linalg.inv(plain_cox.information(joints, coef, ties)), rtol=1e-6, atol=1e-9)
    assert_allclose(fit.loglik, plain_cox.loglik(joints, coef, ties), rtol=1e-10, atol=1e-11)
    assert_allclose(fit.loglik_null, plain_cox.loglik(joints, [0.0, 0.0], ties), rtol=1e-10, atol=1e-12)


@given(some_joints, some_ties)
@settings(max_examples=40)
def test_robust_covariance_is_the_plain_one(joints: list[Joint], ties: Ties) -> None:
    fit = fitted(joints, ties)
    late = [joint.cluster for joint in joints if joint.start >= 0]
    found = robust_covariance(fit, np.array([joint.cluster for joint in joints]), np.array(late, dtype=np.int64))
    pulls = np.zeros((5, 2))
    for joint, pull in zip(joints, plain_cox.score_residuals(joints, fit.coef.tolist(), ties), strict=True):
        pulls[joint.cluster] += pull
    expected = fit.covariance @ pulls.T @ pulls @ fit.covariance
    assert_allclose(found, expected, rtol=1e-6, atol=1e-9 * np.abs(fit.covariance).max())


@given(some_joints, some_ties)
@settings(max_examples=40)
def test_baseline_hazard_is_the_plain_one(joints: list[Joint], ties: Ties) -> None:
    fit = fitted(joints, ties)
    for baseline in baseline_hazard(fit):
        for day in range(8):
            expected = plain_cox.cumulative_hazard(joints, fit.coef.tolist(), day, baseline.stratum, ties)
            assert_allclose(baseline.at([day]), expected, rtol=1e-8)


@given(some_joints, some_ties)
@settings(max_examples=40)
def test_the_test_of_proportionality_is_the_plain_one(joints: list[Joint], ties: Ties) -> None:
    fit = fitted(joints, ties)
    coef = fit.coef.tolist()
    days = {joint.stop for joint in joints if joint.event}
    assume(len(days) > 1)
    g = {day: float(day) for day in days}
    parts = [{day: float(day) ** power for day in days} for power in range(3)]
    none, once, twice = (np.array(plain_cox.information(joints, coef, ties, part)) for part in parts)
    whole = np.block([[none, once], [once, twice]])
    assume(bool(np.linalg.cond(whole) < 1e8))
    score = np.concatenate([np.zeros(2), plain_cox.schoenfeld(joints, coef, g, ties)])
    found = proportionality(fit, "identity")
    assert_allclose(found.together.statistic, score @ np.linalg.solve(whole, score), rtol=1e-5, atol=1e-9)


@given(some_joints, some_ties, st.lists(st.integers(0, 6), min_size=1, max_size=3, unique=True).map(sorted))
def test_cutting_follow_up_into_windows_changes_no_risk_set(joints: list[Joint], ties: Ties, cuts: list[int]) -> None:
    counts, design = counts_of_joints(joints)
    assume(counts.events > 0)
    split = split_at(counts, cuts)
    assert split.counts.events == counts.events
    coef = np.array([0.7, -0.4])
    whole = PartialLikelihood(risk_sets(counts), Columns(design.matrix), ties)
    cut = PartialLikelihood(risk_sets(split.counts), Columns(split.constant(design).matrix), ties)
    assert_allclose(cut.at(coef).loglik, whole.at(coef).loglik, rtol=1e-12, atol=1e-12)
    # By window, against joints cut one by one.
    rows = plain_cox.split(joints, cuts)
    by_window = split.by_window(design)
    likelihood = PartialLikelihood(risk_sets(split.counts), Columns(by_window.matrix), ties)
    effects = np.linspace(-1, 1, len(by_window.names))
    plain = [
        Joint(joint.stop, joint.event, spread(joint.x, window, len(cuts) + 1), joint.start, joint.stratum)
        for joint, window in rows
    ]
    assert_allclose(likelihood.at(effects).loglik, plain_cox.loglik(plain, effects.tolist(), ties), atol=1e-11)
    # As in any counts, those at risk are those who entered and have not left.
    days = range(8)
    at_risk = [sum(joint.start < day <= joint.stop for joint in joints) for day in days]
    assert split.counts.followed().at(days).tolist() == counts.followed().at(days).tolist() == at_risk


def spread(x: tuple[float, ...], window: int, windows: int) -> tuple[float, ...]:
    return tuple(value * (number == window) for number in range(windows) for value in x)


@given(some_joints, some_ties, st.randoms(use_true_random=False))
@settings(max_examples=40)
def test_order_splits_and_a_stratum_of_one_kind_change_nothing(joints: list[Joint], ties: Ties, random: Any) -> None:
    fit = fitted(joints, ties)
    counts, design = fit.counts, fit.asked
    order = list(range(len(counts.day)))
    random.shuffle(order)
    shuffled = Entries(*(values[::-1] for values in entry_columns(counts)))
    again = cox(rebuilt(counts, order, shuffled), design, ties)
    assert_allclose(again.coef, fit.coef, rtol=1e-7, atol=1e-10)
    # Each count twice over, in two rows, against the same in one row.
    twice = Entries(*(np.concatenate([values, values]) for values in entry_columns(counts)))
    doubled = Entries(*entry_columns(counts)[:2], 2 * entry_columns(counts)[2])
    one, other = (
        cox(rebuilt(counts, order * 2, twice), design, ties),
        cox(rebuilt(counts, order, doubled, 2), design, ties),
    )
    assert_allclose(one.coef, other.coef, rtol=1e-7, atol=1e-10)
    assert_allclose(one.covariance, other.covariance, rtol=1e-6, atol=1e-9)
    # A stratum where all joints are alike compares nobody.
    alike = [*joints, *(Joint(day, True, (1.0, 1.0), stratum=7) for day in range(3))]
    more = cox(*counts_of_joints(alike), ties)
    assert_allclose(more.coef, fit.coef, rtol=1e-6, atol=1e-9)
    assert_allclose(more.covariance, fit.covariance, rtol=1e-6, atol=1e-9)


def entry_columns(counts: PatternCounts) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    if counts.entered is None:
        nobody = np.zeros(0, dtype=np.int64)
        return nobody, nobody, nobody
    return counts.entered.group, counts.entered.day, counts.entered.joints


def rebuilt(counts: PatternCounts, order: list[int], entered: Entries, each: int = 1) -> PatternCounts:
    rows = [values[order] for values in (counts.pattern, counts.day, counts.event, each * counts.weights)]
    return PatternCounts(counts.patterns, *rows, stratum=counts.stratum, entered=entered)


def numbers_in(result: Any) -> list[float]:
    """Every number a result holds, through results within results."""
    if isinstance(result, PatternCounts | PartialLikelihood):
        return []
    if is_dataclass(result):
        return [number for field in fields(result) for number in numbers_in(getattr(result, field.name))]
    if isinstance(result, np.ndarray):
        return np.ma.getdata(result).ravel().astype(float).tolist()
    if isinstance(result, tuple):
        return [number for part in result for number in numbers_in(part)]
    return [result] if isinstance(result, float | int) else []


@given(some_joints, some_ties)
def test_no_result_holds_a_number_that_is_none(joints: list[Joint], ties: Ties) -> None:
    counts, design = counts_of_joints(joints)
    try:
        fit = cox(counts, design, ties)
        found = [fit, fit.ratios(), baseline_hazard(fit), firth(counts, design, ties).ratios()]
        found += [likelihood_ratio_test(fit), wald_test(fit), score_test(fit)]
        risk = adjusted_risk(fit, Population(Design(design.names, design.terms, [[0.0, 1.0]])))
        found += [risk, risk.at(range(8)), risk.curve()]
    except ModelError:
        return
    assert all(np.isfinite(number) for number in numbers_in(tuple(found)))
