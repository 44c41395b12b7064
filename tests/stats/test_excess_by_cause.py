"""Excess by cause: R's Nelson-Aalen of the others over its own follow-up, exact limits, and parts that add up."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from regdash.stats.excess_by_cause import OthersHazard
from tests.stats.one_among_all import drawn, flchain, printed


def test_expected_and_limits_by_cause_are_those_of_r() -> None:
    """survfit(Surv(futime, cause == k)) of the others by stratum, its cumhaz at each own follow-up; poisson.test."""
    them, _, _ = flchain()
    parts, whole = OthersHazard(them).excess(3)
    rows = printed("explained_flchain", "excess")
    for part, row in zip((*parts, whole), rows, strict=True):
        assert part.observed == int(row["events"])
        assert_allclose(
            [part.expected, part.lower, part.upper],
            [float(row[name]) for name in ("figure", "lower", "upper")],
            rtol=1e-6,  # poisson.test stops there
        )
    assert whole.expected == pytest.approx(float(rows[-1]["figure"]), rel=1e-12)


def test_parts_add_up_to_the_whole_to_the_last_digit() -> None:
    for seed in range(5):
        them, _ = drawn(2_000, 3, 5, 400, seed)
        parts, whole = OthersHazard(them).excess(4)
        assert sum(part.observed for part in parts) == whole.observed
        assert sum(part.expected for part in parts) == pytest.approx(whole.expected, rel=1e-14)
        assert sum(part.excess for part in parts) == pytest.approx(whole.excess, abs=1e-11)


def test_what_is_expected_equals_a_plain_sum_over_joints_and_days() -> None:
    them, _ = drawn(300, 3, 3, 25, seed=9)
    hazard = OthersHazard(them)
    parts, _ = hazard.excess(4)
    by_cause = np.zeros(4)
    for joint in np.flatnonzero(them.own).tolist():
        alike = ~them.own & (them.stratum == them.stratum[joint])
        for day in range(int(them.day[joint]) + 1):
            at_risk = np.count_nonzero(alike & (them.day >= day))
            for cause in range(1, 5):
                dead = np.count_nonzero(alike & (them.day == day) & (them.cause == cause))
                by_cause[cause - 1] += dead / at_risk if at_risk else 0
    assert_allclose([part.expected for part in parts], by_cause, rtol=1e-12)
    assert hazard.by_joint[them.own].sum() == pytest.approx(by_cause.sum())


def test_the_others_own_expected_events_are_their_events() -> None:
    """Which is what lets users be compared by them."""
    them, _ = drawn(900, 3, 3, 50, seed=2)
    due = OthersHazard(them).by_joint[~them.own].sum()
    assert due == pytest.approx(np.count_nonzero(them.cause[~them.own]))


def test_events_after_the_last_of_the_others_are_left_out_and_told() -> None:
    them, _ = drawn(400, 3, 2, 60, seed=4)
    late = them.day.copy()
    mine = np.flatnonzero(them.own & (them.cause > 0))[:3]
    late[mine] = 500
    moved = OthersHazard(type(them)(them.own, them.stratum, late, them.cause))
    _, whole = moved.excess(4)
    assert moved.left_out == 3
    assert whole.observed == them.events - 3


def test_support_is_the_number_of_events_where_each_weighs_the_same() -> None:
    """Nobody leaves but by an event of the others, who are as many as its own: each event weighs 1 / (others left)."""
    own = np.repeat([True, False], [50, 5_000])
    day = np.where(own, 99, 50)
    cause = np.zeros(len(own), dtype=int)
    cause[50:57] = 1
    (part,), _ = OthersHazard(type(flchain()[0])(own, np.zeros(len(own), dtype=int), day, cause)).excess(1)
    assert (part.others, part.support) == (7, pytest.approx(7))
