"""CUSUM paths against arithmetic by hand, another definition, and runs whose length is known."""

from math import log

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from regdash.errors import CountError
from regdash.stats.cusum import cusum, outcome_cusum, outcome_weights
from regdash.stats.dated_events import DatedEvents
from regdash.stats.run_length import mean_run
from tests.stats.finite import assert_finite

some_dates = st.lists(
    st.tuples(st.integers(0, 30), st.floats(0, 3), st.integers(0, 4)), min_size=1, max_size=20, unique_by=lambda d: d[0]
).map(sorted)


def watched(rows: list[tuple[int, float, int]]) -> DatedEvents:
    return DatedEvents(*(np.array(column) for column in zip(*rows, strict=True)))


def test_a_path_made_by_hand_is_followed() -> None:
    """Events when 0.4, 0.9, 1.0, ... were expected: + log 2 each, - what was expected between, never below 0."""
    at = [0.4, 0.9, 1.0, 1.3, 2.6, 2.8, 2.9, 3.0]
    values = [0.6931471806, 0.8862943611, 1.4794415417, 1.8725887222, 1.2657359028, 1.7588830834, 2.3520302639]
    path = cusum(DatedEvents(np.arange(8), np.diff(at, prepend=0), np.ones(8)), limit=10)
    assert_allclose(path.value, [*values, 2.9451774445], atol=6e-11)
    assert_allclose(path.expected, at, rtol=1e-14)
    assert path.signals == ()


@given(some_dates, st.sampled_from([1.5, 2.0, 4.0]))
def test_without_reset_it_is_the_distance_from_the_lowest_point_so_far(rows: list, rho: float) -> None:
    """X = S - min(S so far, 0) for the running sum S, within the expected of each date lowest at its end."""
    path = cusum(watched(rows), 1e9, rho)
    total, lowest = 0.0, 0.0
    for row, (_, expected, events) in enumerate(rows):
        total -= (rho - 1) * expected
        lowest = min(lowest, total)
        assert_allclose(path.before[row], total - lowest, atol=1e-10)
        total += events * log(rho)
        assert_allclose([path.highest[row], path.value[row]], total - lowest, atol=1e-10)
    assert_finite(path)


@given(some_dates)
def test_dates_without_events_may_be_split_or_left_together(rows: list) -> None:
    split = [(2 * date + part, expected / 2, part * events) for date, expected, events in rows for part in (0, 1)]
    one, other = cusum(watched(rows), 1.5), cusum(watched(split), 1.5)
    assert_allclose(one.value, other.value[1::2], atol=1e-10)
    assert_allclose([s.value for s in one.signals], [s.value for s in other.signals], atol=1e-10)
    assert [s.event for s in one.signals] == [s.event for s in other.signals]


def test_on_one_date_what_is_expected_comes_first_and_each_event_may_signal() -> None:
    """Limit 1.3: two events signal, the path begins anew, and the next two signal again, all on one date."""
    path = cusum(DatedEvents([7, 9], [0.5, 0.2], [5, 0]), limit=1.3)
    assert [(signal.date, signal.event) for signal in path.signals] == [(7, 2), (7, 4)]
    assert_allclose([signal.value for signal in path.signals], [2 * log(2)] * 2, rtol=1e-14)
    assert [signal.expected for signal in path.signals] == [0.5, 0.5]
    assert_allclose(path.value, [log(2), log(2) - 0.2], rtol=1e-14)
    assert_allclose(path.highest, [2 * log(2), log(2) - 0.2], rtol=1e-14)


def test_where_it_goes_on_after_a_signal_is_as_was_stated() -> None:
    rows = DatedEvents([1, 2, 3, 4], [0, 0, 0.6, 0.0], [1, 1, 0, 1])
    zero, half, none = (cusum(rows, 1.3, reset=reset) for reset in ("zero", "half", "none"))
    assert_allclose(zero.value, [log(2), 0, 0, log(2)], rtol=1e-14)
    assert_allclose(half.value, [log(2), 0.65, 0.05, 0.05 + log(2)], rtol=1e-12)
    assert_allclose(none.value, [log(2), 2 * log(2), 2 * log(2) - 0.6, 3 * log(2) - 0.6], rtol=1e-14)
    assert [len(path.signals) for path in (zero, half, none)] == [1, 1, 2]


def test_without_reset_it_signals_once_for_each_time_it_comes_up_to_the_limit() -> None:
    path = cusum(DatedEvents([1, 2, 3], [0, 0, 5.0], [3, 1, 2]), limit=1.3, reset="none")
    assert [(signal.date, signal.event) for signal in path.signals] == [(1, 2), (3, 6)]


@pytest.mark.parametrize(("rate", "limit"), [(1.0, 2.0), (2.0, 3.0)])
def test_signals_come_as_often_as_the_mean_run_says(rate: float, limit: float) -> None:
    """100,000 events with exponential gaps, every event a date of its own, as in continuous time."""
    gaps = np.random.default_rng(21).exponential(1 / rate, 100_000)
    path = cusum(DatedEvents(np.arange(100_000), gaps, np.ones(100_000)), limit)
    runs = np.diff([0, *(signal.expected for signal in path.signals)])
    assert abs(runs.mean() - mean_run(limit, rate=rate)) < 4 * runs.std() / np.sqrt(len(runs))


@pytest.mark.parametrize(
    ("score", "risk", "died", "survived"),
    [
        (0, 0.024602428403, 0.668842517941, -0.024304662618),
        (50, 0.542397940774, 0.259808870766, -0.433338309794),
        (71, 0.856559073773, 0.074422366462, -0.618724814098),
    ],
)
def test_weights_of_outcomes_are_those_of_the_published_risk_model(
    score: int, risk: float, died: float, survived: float
) -> None:
    """Coefficients of Steiner et al. (2000): logit p = -3.68 + 0.077 × Parsonnet score; weights by their formula."""
    p = 1 / (1 + np.exp(3.68 - 0.077 * score))
    up, down = outcome_weights(np.array([p]))
    assert_allclose([p, up[0], down[0]], [risk, died, survived], atol=6e-13)


@given(st.lists(st.tuples(st.floats(0.01, 0.99), st.integers(0, 1)), min_size=1, max_size=30))
def test_outcomes_are_followed_joint_by_joint(joints: list[tuple[float, int]]) -> None:
    found = outcome_cusum(*(np.array(column) for column in zip(*joints, strict=True)), limit=1.0)
    value, signals = 0.0, []
    for number, (risk, happened) in enumerate(joints):
        value = max(0.0, value + log((2 if happened else 1) / (1 - risk + 2 * risk)))
        assert_allclose(found.highest[number], value, atol=1e-12)
        if value >= 1.0:
            signals.append(number)
            value = 0.0
        assert_allclose(found.value[number], value, atol=1e-12)
    assert found.signals.tolist() == signals
    assert_finite(found)


def test_what_cannot_be_followed_is_refused() -> None:
    rows = DatedEvents([1], [1.0], [1])
    for wrong in ({"limit": 0.0}, {"limit": 4.0, "rho": 1.0}):
        with pytest.raises(ValueError, match="above"):
            cusum(rows, **wrong)
    with pytest.raises(ValueError, match="zero, half or none"):
        cusum(rows, 4.0, reset="all")  # type: ignore[arg-type]
    with pytest.raises(CountError, match="between 0 and 1"):
        outcome_weights(np.array([0.5, 1.0]))
    with pytest.raises(CountError, match="needs one outcome"):
        outcome_cusum(np.array([0.5]), np.array([2]), 4.0)
    with pytest.raises(ValueError, match="odds ratio"):
        outcome_weights(np.array([0.5]), 1.0)


def test_nobody_watched_is_an_empty_path() -> None:
    path = cusum(DatedEvents([], [], []), 4.0)
    assert (len(path.value), path.signals) == (0, ())
