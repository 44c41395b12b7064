"""Expected events along the calendar, against joints followed date by date."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from regdash.errors import CountError
from regdash.stats.cox_counts import PatternCounts
from regdash.stats.dated_events import DatedEvents, dated_events
from regdash.stats.reference_hazard import hazard_of, published_rates
from regdash.stats.standardised_ratio import standardised_ratios

# (date of implantation, days followed, event)
dated_joints = st.lists(st.tuples(st.integers(0, 10), st.integers(0, 8), st.integers(0, 1)), min_size=1, max_size=12)


@given(dated_joints)
def test_what_is_expected_of_each_date_is_that_of_joints_followed_on_it(joints: list[tuple[int, int, int]]) -> None:
    start, day, event = np.array(joints).T
    reference = hazard_of(PatternCounts(1, [0] * len(day), day, event))
    steps = np.diff(reference.expected(np.zeros(9, dtype=np.int64), np.arange(9)), prepend=0)
    found = dated_events(reference, np.arange(20), start, day, event)
    for date in range(20):
        ages = [date - begun for begun, last, _ in joints if 0 <= date - begun <= last]
        assert_allclose(found.expected[date], sum(steps[age] for age in ages), rtol=1e-9, atol=1e-12)
        assert found.events[date] == sum(hit and begun + last == date for begun, last, hit in joints)
    assert_allclose(found.expected.sum(), event.sum(), rtol=1e-12, atol=1e-12)


def test_coarser_dates_add_up_finer_ones_and_leave_out_what_comes_later() -> None:
    reference = published_rates([0], [], np.array([[36525.0]]))  # one a day
    found = dated_events(reference, np.array([5, 12]), [2, 4, 20], [6, 30, 5], [1, 1, 1], relative=np.array([1, 2, 1]))
    assert found.expected.tolist() == [3 + 2, 3 + 2 * 7]
    assert found.events.tolist() == [0, 1]


def test_all_of_the_calendar_expects_what_all_of_follow_up_does() -> None:
    random = np.random.default_rng(3)
    start, day, event = random.integers(0, 4000, 300), random.integers(0, 2000, 300), random.integers(0, 2, 300)
    counts = PatternCounts(300, np.arange(300), day, event, stratum=np.arange(300) % 3)
    reference, weight = hazard_of(counts), random.uniform(0.5, 2, 300)
    (whole,) = standardised_ratios(counts, np.zeros(300), ["H001"], reference, weight)
    found = dated_events(reference, np.arange(0, 6001, 91), start, day, event, stratum=counts.stratum, relative=weight)
    assert_allclose(found.expected.sum(), whole.ratio.expected, rtol=1e-12)
    assert found.events.sum() == event.sum()


def test_events_without_a_known_hazard_are_left_out_as_in_the_ratio() -> None:
    """Days 0 to 4 of stratum 0 are known: neither the event on day 6 nor that of stratum 1 has anything expected."""
    reference = hazard_of(PatternCounts(1, [0, 0], [2, 4], [1, 0]))
    found = dated_events(reference, np.arange(20), [0, 1, 2], [3, 6, 3], [1, 1, 1], stratum=np.array([0, 0, 1]))
    assert (found.dates[found.events > 0].tolist(), found.expected.sum()) == ([3], 2 * 0.5)


@given(dated_joints, st.randoms())
def test_rows_of_one_date_add_up_in_any_order(joints: list[tuple[int, int, int]], random: object) -> None:
    mixed = joints[:]
    random.shuffle(mixed)  # type: ignore[attr-defined]
    one, other = (DatedEvents(*np.array(rows).T) for rows in (joints, mixed))
    assert one.dates.tolist() == other.dates.tolist() == sorted({date for date, *_ in joints})
    assert one.events.tolist() == other.events.tolist()
    assert one.expected.tolist() == other.expected.tolist()


def test_what_cannot_be_dated_events_is_refused() -> None:
    with pytest.raises(CountError, match="one length"):
        DatedEvents(np.array([1, 2]), np.array([1.0]), np.array([1]))
    with pytest.raises(CountError, match="below 0"):
        DatedEvents(np.array([1]), np.array([-1.0]), np.array([1]))
    reference = published_rates([0], [], np.ones((1, 1)))
    with pytest.raises(CountError, match="must rise"):
        dated_events(reference, [3, 3], [1], [1], [1])
    with pytest.raises(CountError, match="An event is 1 or 0"):
        dated_events(reference, [3], [1], [1], [2])
    with pytest.raises(CountError, match="one length"):
        dated_events(reference, [3], [1, 2], [1], [1])
