"""Whatever joints there are, comparisons give numbers or say in words why not."""

from collections.abc import Callable
from math import isfinite
from typing import Any

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from regdash.errors import ModelError
from regdash.stats.aalen_johansen import aalen_johansen
from regdash.stats.ceiling import against_benchmark, against_ceiling
from regdash.stats.clustered import clustered_net_risk
from regdash.stats.clusters import JointPairs, JointRows
from regdash.stats.difference import risk_difference, risk_ratio
from regdash.stats.events import EventTable
from regdash.stats.gap import gap_by_reason
from regdash.stats.gray import gray_test
from regdash.stats.kaplan_meier import NetRisk, kaplan_meier
from regdash.stats.landmark import given_unrevised
from regdash.stats.log_rank import log_rank_test, trend_test
from regdash.stats.quantiles import times_to_risk
from regdash.stats.restricted_mean import mean_difference, mean_ratio, restricted_mean
from tests.stats.group_cases import Joint, table_of
from tests.stats.test_estimators_agree import numbers_in

DAYS = range(8)

joints = st.lists(st.tuples(st.integers(0, 6), st.integers(0, 3)), max_size=20)
NOBODY: list[Joint] = []
ALL_REVISED: list[Joint] = [(3, 2), (3, 3), (5, 2)]
ALL_DIED: list[Joint] = [(0, 1), (4, 1)]
ALL_IN_PLACE: list[Joint] = [(0, 0), (6, 0), (6, 0)]
ON_DAY_0: list[Joint] = [(0, 0), (0, 1), (0, 2), (0, 3)]


def corners(test: Any) -> Any:
    """Try every two of the corners as well as what hypothesis finds."""
    ends = (NOBODY, ALL_REVISED, ALL_DIED, ALL_IN_PLACE, ON_DAY_0)
    for one in ends:
        for other in ends:
            test = example(one, other, 0)(test)
    return test


def net_of(table: EventTable, group: int) -> NetRisk:
    counts = table.of(group)
    return kaplan_meier(counts.days, counts.revised, counts.left, counts.entered)


def clustered_of(table: EventTable, group: int, joints: list[Joint], landmark: int) -> tuple[Any, ...]:
    """Errors with two joints after each other in a list as one patient, from rows and from pairs."""
    stay = [joint for joint in joints if joint[0] > landmark]
    day = np.array([last for last, _ in stay], dtype=np.int64)
    revised = np.array([how > 1 for _, how in stay], dtype=np.int64)
    half = len(stay) // 2
    rows = JointRows(np.arange(len(stay)) // 2, day, revised, np.full(len(stay), landmark))
    pairs = [each[: 2 * half].reshape(-1, 2) for each in (day, revised)]
    net = net_of(table, group)
    forms = (rows, JointPairs(*pairs, np.ones(half), landmark))
    curves = [clustered_net_risk(net, form) for form in forms]
    return (*curves, *(curve.at(DAYS) for curve in curves), *(restricted_mean(net, 4, joints=form) for form in forms))


def refused_or(made: Callable[[], Any]) -> Any:
    """A comparison that cannot be made is refused; anything but a ModelError is a bug and fails the test."""
    try:
        return made()
    except ModelError:
        return None


@given(joints, joints, st.integers(-1, 3))
@corners
def test_no_comparison_holds_what_is_not_a_number(first: list[Joint], second: list[Joint], landmark: int) -> None:
    table = table_of([("one", first), ("other", second)], reasons=2)
    table = table if landmark < 0 else given_unrevised(table, landmark)
    one, other = (net_of(table, group) for group in (0, 1))
    counts = table.of(0)
    by_cause = aalen_johansen(counts.days, counts.competing, counts.left, counts.entered)
    results: list[Any] = [times_to_risk(one.steps, [0.1, 0.5, 0.9]), times_to_risk(by_cause.of(1), [0.1, 0.5])]
    results += [risk_difference(one.steps, other.steps, DAYS), risk_ratio(one.steps, other.steps, DAYS)]
    results += [by_cause.covariance_at(day) for day in DAYS]
    for day in (1, 4, 6):
        means = [restricted_mean(net, day) for net in (one, other)]
        results += [*means, mean_difference(*means), mean_ratio(*means)]
        results += [gap_by_reason(table, 0, 1, day, "implant"), gap_by_reason(table, 0, 1, day, "patient")]
        results += [against_ceiling(one.steps, 0.3, day, 1), against_benchmark(one.steps, other.steps, 0.2, day, 1)]
    results += [*clustered_of(table, 0, first, landmark), *clustered_of(table, 1, second, landmark)]
    for test in (log_rank_test, gray_test):
        for rho in (0, 1):
            found = refused_or(lambda test=test, rho=rho: test(table, rho=rho))
            results += [found, refused_or(lambda found=found: trend_test(found))] if found else []
    assert all(isfinite(number) for result in results for number in numbers_in(result))


@given(st.lists(joints, min_size=2, max_size=4), st.sampled_from([0.0, 0.5, 1.0]))
def test_statistics_are_never_below_0_and_p_is_a_probability(groups: list[list[Joint]], rho: float) -> None:
    table = table_of([(str(number), each) for number, each in enumerate(groups)], reasons=2)
    for test in (log_rank_test, gray_test):
        found = refused_or(lambda test=test: test(table, [2], rho=rho))
        if found:
            assert found.statistic >= 0
            assert 0 <= found.p <= 1
            assert 1 <= found.df < len(groups)
            assert sum(group.observed - group.expected for group in found.groups) == pytest.approx(0, abs=1e-9)
