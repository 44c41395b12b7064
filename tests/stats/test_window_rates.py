"""Rates in windows, against R and against joints followed day by day."""

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from regdash.errors import CountError
from regdash.stats.events import Entries, EventTable
from regdash.stats.window_rates import DatedCounts, calendar_rates, calendar_table, rates_since_implantation
from tests.stats.cases import counts_of, joints_of, rows_of
from tests.stats.finite import assert_finite

OUTCOMES = ("censored", "died", "wear")
CUTS = [3, 5]

# Late joints: (day of entry, days at risk from the day after it, how follow-up ended). Entry -1: before day 0.
late_joints = st.lists(st.tuples(st.integers(-1, 6), st.integers(1, 6), st.integers(0, 2)), min_size=1, max_size=15)
# Joints of the calendar: (date of implantation, days followed, how it ended).
dated_joints = st.lists(st.tuples(st.integers(0, 20), st.integers(0, 12), st.integers(0, 2)), min_size=1, max_size=15)


def test_rates_since_entry_are_those_of_r() -> None:
    """
    R cut follow-up at 365.25 and 1826.25 days, we cut it after whole days: events are the same, and each joint that
    crosses a cut has a quarter of a day more before it there.
    """
    counts = counts_of(joints_of(rows_of("data_flchain"), "futime", "death", {"0": 0, "1": 2}))
    found = rates_since_implantation(counts, [90, 365, 1826])
    labels = ("0-90d", "90d-1y", "1-5y", "5y+")
    expected = [row for label in labels for row in rows_of("pyears_flchain", stratum=f"followup={label}")]
    quarters = [0, 0, *(window.joints for window in found[2:]), 0]
    for number, (window, row) in enumerate(zip(found, expected, strict=True)):
        assert window.rate.revised == int(row["events"])
        years = window.rate.years + (quarters[number + 1] - quarters[number]) / 4 / 365.25
        assert_allclose(years, float(row["years"]), rtol=1e-12)
        assert_allclose(window.rate.per_100_years * window.rate.years / years, float(row["rate100"]), rtol=1e-12)
        assert_allclose(window.rate.lower * window.rate.years / years, float(row["lower100"]), rtol=1e-10)
    assert found[0].rate.years == pytest.approx(float(expected[0]["years"]), rel=1e-13)


@given(late_joints)
def test_windows_since_implantation_are_those_of_joints_followed_day_by_day(joints: list[tuple[int, int, int]]) -> None:
    late = [(max(entry, 0), 1) for entry, _, _ in joints if entry >= 0]
    entries = Entries(np.zeros(len(late)), np.array([day for day, _ in late]), np.ones(len(late))) if late else None
    lasts = [entry + days for entry, days, _ in joints]
    table = EventTable(
        (("all",),), OUTCOMES, [0] * len(joints), lasts, [how for *_, how in joints], [1] * len(joints), entries
    )
    found = rates_since_implantation(table.of(0), CUTS)
    for window, (start, stop) in zip(found, [(-1, 3), (3, 5), (5, 99)], strict=True):
        at_risk = [range(entry + 1, entry + days + 1) for entry, days, _ in joints]
        inside = [[day for day in followed if start < day <= stop] for followed in at_risk]
        # Day 0 has follow-up but no length: a joint revised on it has an event and no exposure.
        assert round(window.rate.years * 365.25) == sum(sum(day > 0 for day in days) for days in inside)
        ended = [how == 2 and start < followed[-1] <= stop for followed, (_, _, how) in zip(at_risk, joints)]
        assert window.rate.revised == sum(ended)
        assert window.joints == sum(len(days) > 0 for days in inside)
    assert_finite(found)
    (whole,) = rates_since_implantation(table.of(0), [])
    assert sum(window.rate.revised for window in found) == whole.rate.revised
    assert_allclose(sum(window.rate.years for window in found), whole.rate.years, rtol=1e-12)


def test_a_revision_on_a_cut_belongs_to_the_earlier_window_and_day_0_to_the_first() -> None:
    counts = counts_of([(0, 2), (90, 2), (91, 2), (400, 0)])
    first, second = rates_since_implantation(counts, [90])
    assert (first.rate.revised, second.rate.revised) == (2, 1)
    assert (first.start, first.stop, second.start, second.stop) == (0, 90, 90, None)
    assert (first.joints, second.joints) == (4, 2)
    assert round(first.rate.years * 365.25) == 0 + 90 + 90 + 90


def test_a_window_that_nobody_reaches_has_no_rate_and_says_so() -> None:
    *_, last = rates_since_implantation(counts_of([(10, 2), (20, 0)]), [90])
    assert (last.joints, last.rate.per_100_years) == (0, None)
    assert "needs follow-up" in str(last.rate.note)


@given(dated_joints)
def test_calendar_windows_are_those_of_joints_followed_date_by_date(joints: list[tuple[int, int, int]]) -> None:
    cuts = [4, 9, 10, 25]
    dated = DatedCounts(*np.array(joints).T, np.ones(len(joints)))
    table = calendar_table(dated, cuts, ["a", "b", "c"], OUTCOMES)
    for number, (after, last) in enumerate(pairwise(cuts)):
        rate = calendar_rates(table)[number]
        days = sum(after < start + day <= last for start, length, _ in joints for day in range(1, length + 1))
        assert round(rate.years * 365.25) == days
        assert rate.revised == sum(how == 2 and after < start + length <= last for start, length, how in joints)
        parts = rates_since_implantation(table.of(number), CUTS)
        assert sum(part.rate.revised for part in parts) == rate.revised
        for part, (low, high) in zip(parts, [(-1, 3), (3, 5), (5, 99)], strict=True):
            seen = [
                how == 2 and after < start + length <= last and low < length <= high for start, length, how in joints
            ]
            assert part.rate.revised == sum(seen)


@given(dated_joints, st.randoms())
def test_order_and_splitting_of_dated_counts_change_nothing(joints: list[tuple[int, int, int]], random: object) -> None:
    twice = [(*joint, 1) for joint in joints] * 2
    random.shuffle(twice)  # type: ignore[attr-defined]
    once = DatedCounts(*np.array(joints).T, np.full(len(joints), 2))
    split = DatedCounts(*np.array(twice).T)
    rates = [calendar_rates(calendar_table(counts, [4, 9, 25], ["a", "b"], OUTCOMES)) for counts in (once, split)]
    assert rates[0] == rates[1]


def test_windows_of_the_calendar_add_up_to_the_whole() -> None:
    joints = joints_of(rows_of("data_flchain"), "futime", "death", {"0": 0, "1": 2})
    day, outcome = np.array(joints).T
    implanted = np.arange(len(day)) % 3000
    table = calendar_table(
        DatedCounts(implanted, day, outcome, np.ones(len(day))), [0, 1000, 4000, 9999], ["a", "b", "c"], OUTCOMES
    )
    rates, whole = calendar_rates(table), counts_of(joints)
    on_date_0 = int(np.sum((implanted == 0) & (day == 0) & (outcome == 2)))
    assert sum(rate.revised for rate in rates) == whole.revised.sum() - on_date_0
    assert_allclose(sum(rate.years for rate in rates), whole.implant_days / 365.25, rtol=1e-12)


@pytest.mark.parametrize("cuts", [[0, 90], [90, 90], [365, 90], [1.5]])
def test_cuts_that_do_not_rise_from_day_1_are_refused(cuts: list[int]) -> None:
    with pytest.raises(CountError, match=r"rise|whole"):
        rates_since_implantation(counts_of([(10, 2)]), cuts)


@pytest.mark.parametrize(("cuts", "labels"), [([1], []), ([1, 2], ["a", "b"]), ([2, 1], ["a"])])
def test_dates_that_make_other_windows_than_there_are_labels_are_refused(cuts: list[int], labels: list[str]) -> None:
    dated = DatedCounts(np.array([1]), np.array([1]), np.array([0]), np.array([1]))
    with pytest.raises(CountError, match="dates that rise"):
        calendar_table(dated, cuts, labels, OUTCOMES)
