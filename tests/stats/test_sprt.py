"""Wald's test against its formulas, and its errors against simulation."""

from math import log

import numpy as np
import pytest
from numpy.testing import assert_allclose

from regdash.stats.dated_events import DatedEvents
from regdash.stats.sprt import sequential_test, wald_bounds
from tests.stats.finite import assert_finite


def test_bounds_are_walds() -> None:
    """log(0.99 / 0.01) both ways, Wald (1945)."""
    assert_allclose(wald_bounds(0.01, 0.01), [-4.595119850135, 4.595119850135], atol=6e-13)
    lower, upper = wald_bounds(0.05, 0.2)
    assert_allclose([lower, upper], [log(0.2 / 0.95), log(0.8 / 0.05)], rtol=1e-14)


def test_the_ratio_credits_good_years_and_the_first_bound_decides() -> None:
    test = sequential_test(DatedEvents([1, 2, 3], [3.0, 2.0, 0.0], [0, 1, 30]))
    assert_allclose(test.log_ratio, [-3, log(2) - 5, 31 * log(2) - 5], rtol=1e-14)
    assert (test.decision, test.decided_date) == ("as expected", 2)  # -5 before the event of that date
    higher = sequential_test(DatedEvents([1, 2], [1.0, 0.5], [3, 9]))
    assert (higher.decision, higher.decided_date) == ("higher", 2)
    going_on = sequential_test(DatedEvents([1], [1.0], [1]))
    assert (going_on.decision, going_on.decided_date) == (None, None)
    assert_finite(test, higher, going_on)


@pytest.mark.parametrize(("rate", "wrong"), [(1.0, "higher"), (2.0, "as expected")])
def test_wrong_decisions_are_about_as_rare_as_was_asked(rate: float, wrong: str) -> None:
    """Wald: at most alpha / (1 - beta), or beta / (1 - alpha); 600 runs with alpha = beta = 0.1."""
    random = np.random.default_rng(31)
    decisions = []
    for _ in range(600):
        gaps = random.exponential(1 / rate, 120)
        decisions.append(sequential_test(DatedEvents(np.arange(120), gaps, np.ones(120)), 2, 0.1, 0.1).decision)
    assert None not in decisions
    assert 0.03 < decisions.count(wrong) / 600 < 0.1 / 0.9 + 4 * 0.0128


def test_probabilities_and_ratios_that_are_none_are_refused() -> None:
    for alpha, beta in ((0, 0.1), (0.1, 0), (0.6, 0.5)):
        with pytest.raises(ValueError, match="add up to below 1"):
            wald_bounds(alpha, beta)
    with pytest.raises(ValueError, match="above 1"):
        sequential_test(DatedEvents([1], [1.0], [1]), rho=1)
