"""The maximised test against published critical values, and its error against simulation."""

from math import exp, factorial, log

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from regdash.errors import ModelError
from regdash.stats.dated_events import DatedEvents
from regdash.stats.max_sprt import max_sprt_limit, maximised_test, poisson_log_ratio
from tests.stats.cases import rows_of
from tests.stats.finite import assert_finite


@pytest.mark.parametrize("row", rows_of("maxsprt_critical_values"), ids=lambda row: "{max_expected_T}".format(**row))
def test_limits_are_the_published_ones(row: dict[str, str]) -> None:
    """Kulldorff & Silva (2017), REVSTAT 15:373-394, and the table that goes with it."""
    found = max_sprt_limit(float(row["max_expected_T"]), int(row["min_events_M"]), float(row["alpha"]))
    assert_allclose(found, float(row["cv_published"]), rtol=1e-11)


@pytest.mark.parametrize(("observed", "expected"), [(5, 2.5), (1, 0.1), (40, 39.0)])
def test_the_ratio_is_that_of_the_likelihoods(observed: int, expected: float) -> None:
    def likelihood(mean: float) -> float:
        return mean**observed * exp(-mean) / factorial(observed)

    found = poisson_log_ratio(np.array([observed]), np.array([expected]))
    assert_allclose(found, log(likelihood(observed) / likelihood(expected)), rtol=1e-10)


@given(st.integers(0, 50), st.floats(0.01, 60))
def test_too_few_events_say_nothing(observed: int, expected: float) -> None:
    (found,) = poisson_log_ratio(np.array([observed]), np.array([expected]))
    assert (found > 0) == (observed > expected) or found < 1e-12
    assert found >= 0


def test_false_signals_are_as_rare_as_was_asked_over_the_whole_watch() -> None:
    """4,000 watches at the expected rate; the standard error of 5 % is 0.34 %."""
    random = np.random.default_rng(41)
    signals = 0
    for _ in range(4000):
        events = np.ones(40)
        test = maximised_test(DatedEvents(np.arange(40), random.exponential(1, 40), events), 10.0)
        signals += test.signal_date is not None
        assert test.over
    assert abs(signals / 4000 - 0.05) < 4 * 0.0034


def test_a_watch_ends_when_all_that_was_planned_is_expected() -> None:
    """Ten events on the last date would signal, but it lies beyond the plan."""
    test = maximised_test(DatedEvents([1, 2, 3], [2.0, 2.0, 7.0], [1, 3, 90]), 10.0)
    assert (test.dates.tolist(), test.signal_date, test.over) == ([1, 2], None, True)
    going_on = maximised_test(DatedEvents([1, 2], [2.0, 2.0], [1, 3]), 10.0)
    assert (going_on.signal_date, going_on.over) == (None, False)
    assert_finite(test, going_on)


def test_fewer_events_than_are_waited_for_give_no_signal() -> None:
    rows = DatedEvents([1, 2], [0.01, 0.01], [2, 2])
    assert maximised_test(rows, 10.0).signal_date == 1
    later = maximised_test(rows, 10.0, fewest_events=4)
    assert (later.signal_date, later.events.tolist()) == (2, [2, 4])


def test_events_before_anything_is_expected_signal_without_a_number() -> None:
    test = maximised_test(DatedEvents([1, 2], [0.0, 1.0], [1, 0]), 10.0)
    assert (test.signal_date, test.log_ratio.mask.tolist()) == (1, [True])
    assert_finite(test)


def test_a_plan_that_cannot_reach_its_error_is_refused() -> None:
    with pytest.raises(ModelError, match="Plan a longer watch"):
        max_sprt_limit(0.01, 3)
    for wrong in ((0.0, 1, 0.05), (10.0, 0, 0.05), (10.0, 1, 0.0)):
        with pytest.raises(ValueError, match="are not so"):
            max_sprt_limit(*wrong)
