"""Estimators against slow plain ones in exact fractions, on made-up joints full of ties."""

import random
from dataclasses import fields, is_dataclass
from math import exp, isfinite, log, sqrt
from typing import Any

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from regdash.stats.aalen_johansen import CumulativeIncidence, aalen_johansen
from regdash.stats.events import EventTable, GroupCounts
from regdash.stats.kaplan_meier import NetRisk, kaplan_meier
from regdash.stats.poisson import rate_ratio, revision_rate
from tests.stats import plain

Joints = list[tuple[int, int]]
OUTCOMES = ("censored", "died", "loosening", "infection")
REASONS, CAUSES = {2, 3}, {1, 2, 3}
DAYS = range(-1, 8)
Z95 = 1.959963984540054

# Few days and many joints: most days have ties of several kinds, and day 0 is one of them.
some_joints = st.lists(st.tuples(st.integers(0, 6), st.integers(0, 3)), min_size=1, max_size=30)
EVERYONE_DIES: Joints = [(3, 1), (0, 1), (5, 1), (5, 1)]
EVERYONE_IS_REVISED: Joints = [(3, 2), (0, 3), (5, 2), (5, 2)]
NOBODY_HAS_ANYTHING: Joints = [(3, 0), (0, 0), (5, 0)]
ALL_ON_DAY_0: Joints = [(0, 0), (0, 1), (0, 2), (0, 3)]


def extremes(test: Any) -> Any:
    """Try the corners as well as what hypothesis finds."""
    for joints in (EVERYONE_DIES, EVERYONE_IS_REVISED, NOBODY_HAS_ANYTHING, ALL_ON_DAY_0, [(4, 2)], [(0, 3)]):
        test = example(joints)(test)
    return test


def counts_of(joints: Joints, weights: list[int] | None = None) -> GroupCounts:
    days, outcomes = zip(*joints, strict=True) if joints else ((), ())
    return EventTable((("all",),), OUTCOMES, [0] * len(joints), days, outcomes, weights or [1] * len(joints)).of(0)


def net_risk(counts: GroupCounts) -> NetRisk:
    return kaplan_meier(counts.days, counts.revised, counts.left)


def incidence(counts: GroupCounts) -> CumulativeIncidence:
    return aalen_johansen(counts.days, counts.competing, counts.left)


def same(one: Any, other: Any) -> bool:
    """Equal to the last bit, through results within results."""
    if is_dataclass(one):
        return all(same(getattr(one, field.name), getattr(other, field.name)) for field in fields(one))
    if isinstance(one, np.ndarray):
        return np.array_equal(np.ma.getdata(one), np.ma.getdata(other)) and np.array_equal(
            np.ma.getmaskarray(one), np.ma.getmaskarray(other)
        )
    return bool(one == other)


def numbers_in(result: Any) -> list[float]:
    """Every number a result holds, those under masks included."""
    if is_dataclass(result):
        return [number for field in fields(result) for number in numbers_in(getattr(result, field.name))]
    if isinstance(result, np.ndarray):
        return np.ma.getdata(result).ravel().tolist()
    if isinstance(result, tuple):
        return [number for part in result for number in numbers_in(part)]
    return [result] if isinstance(result, float | int) else []


@given(some_joints)
@extremes
def test_net_risk_and_its_variance_are_the_plain_ones(joints: Joints) -> None:
    found = net_risk(counts_of(joints))
    censored = [(day, how if how in REASONS else 0) for day, how in joints]
    both_reasons = [(day, 2 if how in REASONS else 0) for day, how in joints]
    for point in found.at(DAYS):
        expected = 1 - plain.event_free(censored, REASONS, point.day)
        assert point.at_risk == sum(day >= point.day for day, _ in joints)
        assert point.events == sum(day <= point.day and how in REASONS for day, how in joints)
        if point.at_risk == 0:
            assert point.risk is None
            continue
        assert_allclose(point.risk, float(expected), rtol=1e-12, atol=1e-15)
        variance = float(plain.incidence_variance(both_reasons, 2, {2}, point.day))
        check_limits(point, float(expected), variance)


@given(some_joints)
@extremes
def test_incidence_and_its_variance_are_the_plain_ones_for_every_cause(joints: Joints) -> None:
    found = incidence(counts_of(joints))
    for cause in CAUSES:
        for point in found.at(DAYS, cause - 1):
            expected = float(plain.incidence(joints, cause, CAUSES, point.day))
            if point.at_risk == 0:
                assert point.risk is None
                continue
            assert_allclose(point.risk, expected, rtol=1e-12, atol=1e-15)
            variance = float(plain.incidence_variance(joints, cause, CAUSES, point.day))
            row = np.searchsorted(found.days, point.day, "right") - 1
            if row >= 0:
                assert_allclose(found.variance[row, cause - 1], variance, rtol=1e-10, atol=1e-15)
            check_limits(point, expected, variance)


def check_limits(point: Any, risk: float, variance: float) -> None:
    """Work the limits out one by one: exact bound at 0, none at 1, log(-log(1 - F)) between."""
    if risk == 0:
        assert_allclose([point.lower, point.upper], [0, 1 - 0.025 ** (1 / point.at_risk)], rtol=1e-12)
    elif risk == 1:
        assert (point.lower, point.upper) == (None, None)
    else:
        width = Z95 * sqrt(variance) / ((1 - risk) * abs(log(1 - risk)))
        expected = [1 - (1 - risk) ** exp(-width), 1 - (1 - risk) ** exp(width)]
        assert_allclose([point.lower, point.upper], expected, rtol=1e-9, atol=1e-13)


@given(some_joints)
@extremes
def test_free_of_all_causes_and_the_incidences_add_up_to_1(joints: Joints) -> None:
    found = incidence(counts_of(joints))
    assert_allclose(found.free + found.incidence.sum(axis=1), 1, rtol=1e-12)


@given(some_joints, st.randoms(use_true_random=False))
def test_neither_the_order_of_rows_nor_splitting_a_count_changes_a_bit(joints: Joints, chance: random.Random) -> None:
    weights = [chance.randint(1, 1000) for _ in joints]
    parts = [chance.randint(0, weight) for weight in weights]
    split = list(zip(joints * 2, parts + [w - p for w, p in zip(weights, parts, strict=True)], strict=True))
    chance.shuffle(split)
    whole, mixed = counts_of(joints, weights), counts_of([joint for joint, _ in split], [part for _, part in split])
    assert same(net_risk(whole), net_risk(mixed))
    assert same(incidence(whole), incidence(mixed))


@given(some_joints, st.integers(2, 1000))
def test_everybody_counted_k_times_keeps_the_risk_and_divides_the_variance_by_k(joints: Joints, k: int) -> None:
    one, many = incidence(counts_of(joints)), incidence(counts_of(joints, [k] * len(joints)))
    assert_allclose(many.incidence, one.incidence, rtol=1e-12)
    assert_allclose(many.variance, one.variance / k, rtol=1e-9, atol=1e-15)


@given(some_joints)
@extremes
def test_reasons_merged_into_one_give_the_figure_of_any_revision(joints: Joints) -> None:
    counts = counts_of(joints)
    by_reason = incidence(counts)
    merged = aalen_johansen(counts.days, np.column_stack([counts.by_outcome[:, 1], counts.revised]), counts.left)
    assert_allclose(by_reason.incidence[:, 1:].sum(axis=1), merged.incidence[:, 1], rtol=1e-12)
    assert_allclose(by_reason.incidence[:, 0], merged.incidence[:, 0], rtol=1e-12)


@given(some_joints)
def test_death_competing_never_raises_the_risk_above_the_net_one(joints: Joints) -> None:
    counts = counts_of(joints)
    merged = aalen_johansen(counts.days, np.column_stack([counts.by_outcome[:, 1], counts.revised]), counts.left)
    for crude, net in zip(merged.at(DAYS, 1), net_risk(counts).at(DAYS), strict=True):
        assert (crude.risk or 0) <= (net.risk or 0) + 1e-12


@given(some_joints)
def test_a_day_without_joints_changes_nothing(joints: Joints) -> None:
    counts = counts_of(joints)
    days = np.unique(np.concatenate([counts.days, np.arange(12)]))
    wide = np.zeros((len(days), 4), dtype=np.int64)
    wide[np.searchsorted(days, counts.days)] = counts.by_outcome
    padded = GroupCounts(days, wide.sum(axis=1), wide)
    assert net_risk(padded).at(DAYS) == net_risk(counts).at(DAYS)
    assert same(net_risk(padded).curve(), net_risk(counts).curve())
    assert all(incidence(padded).at(DAYS, c) == incidence(counts).at(DAYS, c) for c in range(3))


@pytest.mark.parametrize("scale", ["log-log", "log", "plain"])
@given(joints=st.one_of(some_joints, st.just([])))
@example(joints=EVERYONE_DIES)
@example(joints=EVERYONE_IS_REVISED)
@example(joints=NOBODY_HAS_ANYTHING)
@example(joints=ALL_ON_DAY_0)
def test_no_result_holds_what_is_not_a_number(joints: Joints, scale: Any) -> None:
    counts = counts_of(joints)
    net, by_cause = net_risk(counts), incidence(counts)
    results = [net, net.at(DAYS, scale=scale), net.curve(scale=scale), by_cause]
    for cause in range(3):
        results += [by_cause.at(DAYS, cause, scale=scale), by_cause.curve(cause, scale=scale)]
    revised, days = int(counts.revised.sum()), counts.implant_days
    results += [revision_rate(revised, days), rate_ratio(revised, days, 3, 10.0), rate_ratio(3, 10.0, revised, days)]
    assert all(isfinite(number) for result in results for number in numbers_in(result))
    points = [point for point in net.at(DAYS, scale=scale) if point.lower is not None]
    assert all(0 <= point.lower <= point.risk <= point.upper <= 1 for point in points)
