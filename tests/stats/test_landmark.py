"""Risk given unrevised at a landmark, against the whole curve and against joints picked by hand."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from regdash.errors import CountError
from regdash.stats.aalen_johansen import aalen_johansen
from regdash.stats.events import Entries, EventTable, GroupCounts
from regdash.stats.kaplan_meier import NetRisk, kaplan_meier
from regdash.stats.landmark import given_unrevised
from tests.stats import plain
from tests.stats.cases import joints_of, rows_of
from tests.stats.group_cases import table_of, table_of_rows

some_joints = st.lists(st.tuples(st.integers(0, 8), st.integers(0, 3)), min_size=1, max_size=25)


def net_of(counts: GroupCounts) -> NetRisk:
    return kaplan_meier(counts.days, counts.revised, counts.left, counts.entered)


@pytest.mark.parametrize("landmark", [0, 30, 100])
def test_the_net_risk_given_unrevised_is_the_rest_of_the_curve_over_what_was_free(landmark: int) -> None:
    """(F(t) - F(L)) / (1 - F(L)): what Kaplan and Meier's product gives for those still followed after L."""
    table = table_of_rows(rows_of("data_veteran"), lambda row: row["celltype"], "time", "status", {"0": 0, "1": 2})
    for group in range(4):
        whole, later = net_of(table.of(group)), net_of(given_unrevised(table, landmark).of(group))
        before = whole.at([landmark])[0].risk or 0
        assert len(later.days) >= 5
        for point in later.at(later.days):
            risk = whole.at([point.day])[0].risk or 0
            assert_allclose(point.risk, (risk - before) / (1 - before), rtol=1e-12)


@given(some_joints, st.integers(0, 8))
def test_only_joints_that_stay_beyond_the_landmark_count(joints: list[tuple[int, int]], landmark: int) -> None:
    table = given_unrevised(table_of([("all", joints)], reasons=2), landmark)
    stay = [joint for joint in joints if joint[0] > landmark]
    counts = table.of(0)
    assert counts.joints == len(stay)
    assert counts.implant_days == sum(day - landmark for day, _ in stay)
    found = aalen_johansen(counts.days, counts.competing, counts.left, counts.entered)
    for day in range(landmark + 1, 10):
        for cause in (1, 2, 3):
            point = found.at([day], cause - 1)[0]
            assert point.at_risk == sum(last >= day for last, _ in stay)
            if point.risk is not None:
                assert_allclose(point.risk, float(plain.incidence(stay, cause, {1, 2, 3}, day)), atol=1e-14)


def test_standard_errors_are_those_of_the_joints_that_are_left() -> None:
    """At the landmark nothing is random any more: only those who stayed are looked at."""
    joints = joints_of(rows_of("data_lung"), "time", "status", {"1": 0, "2": 2})
    later = net_of(given_unrevised(table_of([("all", joints)]), 180).of(0))
    alone = net_of(table_of([("all", [joint for joint in joints if joint[0] > 180])]).of(0))
    assert later.days.tolist() == alone.days.tolist()
    assert_allclose(later.se, alone.se, rtol=1e-12)


def test_joints_that_enter_after_the_landmark_still_do() -> None:
    entries = Entries([0, 0, 0], [2, 5, 9], [4, 3, 2])
    table = EventTable((("all",),), ("censored", "died", "wear"), [0, 0, 0], [4, 7, 12], [2, 2, 0], [1, 2, 6], entries)
    later = given_unrevised(table, 5).of(0)
    assert later.days.tolist() == [5, 7, 9, 12]
    assert (later.entered.tolist() if later.entered is not None else []) == [6, 0, 2, 0]
    assert later.at_risk.tolist() == [0, 6, 4, 6]


def test_after_everybody_has_gone_the_table_is_empty_and_not_wrong() -> None:
    table = given_unrevised(table_of([("a", [(3, 2)]), ("b", [(9, 0)])]), 5)
    assert (table.of(0).joints, table.of(1).joints) == (0, 1)
    assert net_of(table.of(0)).at([7])[0].risk is None


def test_a_landmark_before_day_0_is_refused() -> None:
    with pytest.raises(CountError, match="from 0 up, not -1"):
        given_unrevised(table_of([("a", [(3, 2)])]), -1)
