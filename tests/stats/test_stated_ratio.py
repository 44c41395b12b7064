"""One-sided tests against a stated ratio: R, scipy, and chances multiplied out."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from scipy.stats import binom, binomtest

from regdash.errors import CountError
from regdash.stats.cox_counts import PatternCounts
from regdash.stats.screened import screened_hazard_ratios
from regdash.stats.stated_ratio import events_p_above, rate_p_above
from tests.stats.cases import rows_of


def test_rates_against_a_stated_ratio_are_those_of_r() -> None:
    rows = rows_of("screen_flchain")
    for window in ("all", "0..1", "1..5", "5.."):
        own = [row for row in rows if row["window"] == window]
        seen, days = (np.array([int(row[name]) for row in own]) for name in ("events", "days"))
        # The ten groups are everybody, so that all others are the sum of the nine.
        found = rate_p_above(seen, days, seen.sum() - seen, days.sum() - days, 1.25)
        assert_allclose(found, [float(row["rate_p"]) for row in own], rtol=1e-9)


@given(st.integers(0, 40), st.integers(0, 400), st.floats(0.01, 50), st.floats(0.01, 500), st.floats(0.5, 4))
def test_a_rate_equals_the_exact_binomial_test(a: int, b: int, years: float, others: float, stated: float) -> None:
    (found,) = rate_p_above([a], [years], [b], [others], stated)
    if a + b:
        share = stated * years / (stated * years + others)
        assert_allclose(found, binomtest(a, a + b, share, alternative="greater").pvalue, rtol=1e-7, atol=1e-300)
    else:
        assert found == 1


def test_a_rate_without_follow_up_has_no_p() -> None:
    assert np.isnan(rate_p_above([0, 3], [0, 10], [4, 0], [50, 0])).tolist() == [True, True]


def exact_tail(chances: np.ndarray, events: int) -> float:
    """Probability of so many successes or more, trial by trial."""
    several = np.ones(1)
    for chance in chances:
        several = np.convolve(several, [1 - chance, chance])
    return float(several[events:].sum())


@given(st.lists(st.floats(0.001, 0.9), min_size=1, max_size=30), st.integers(0, 30))
def test_unequal_chances_never_make_many_events_likelier_than_the_bound(chances: list[float], events: int) -> None:
    (bound,) = events_p_above([events], [sum(chances)], [len(chances)])
    assert bound >= exact_tail(np.array(chances), events) - 1e-12


def test_equal_chances_are_the_binomial_and_alike_ones_nearly() -> None:
    for events in range(6, 20):
        assert_allclose(events_p_above([events], [5.0], [100]), binom.sf(events - 1, 100, 0.05), rtol=1e-10)
    alike = np.tile([0.02, 0.05, 0.08], 34)[:100]
    (bound,) = events_p_above([14], [alike.sum()], [100])
    assert 1 < bound / exact_tail(alike, 14) < 1.15


def test_a_screened_unit_is_tested_by_its_shares_of_the_risk_sets() -> None:
    # One event a day, no ties: each falls on unit A with its share, all of them at a hazard 1.5 times the others'.
    random = np.random.default_rng(3)
    unit = (np.arange(40) % 4 == 0).astype(int)  # 10 of 40 joints
    day = random.permutation(40) + 1
    counts = PatternCounts(2, unit, day, np.ones(40, dtype=int))
    found = screened_hazard_ratios(counts, [0, 1], ["B", "A"], stated=1.5)[1]
    at_risk = [(unit[day >= t].sum(), (day >= t).sum()) for t in range(1, 41)]
    chances = np.array([1.5 * own / (1.5 * own + everybody - own) for own, everybody in at_risk])
    assert found.events == 10
    assert_allclose(found.p_higher, events_p_above([10], [chances.sum()], [(chances > 0).sum()]), rtol=1e-12)


def test_events_over_those_due_are_the_ratio_and_a_unit_without_events_is_due_some() -> None:
    counts = PatternCounts(2, [0, 1, 0, 1], [1, 1, 9, 9], [1, 1, 0, 0], [1, 3, 4, 2])
    one, other = screened_hazard_ratios(counts, [0, 1], ["A", "B"], "breslow")
    assert one.ratio.ratio is not None
    assert other.ratio.ratio is not None
    assert_allclose([1 / one.due, 3 / other.due], [one.ratio.ratio, other.ratio.ratio])  # type: ignore[operator]
    none = PatternCounts(2, [0, 0, 1], [5, 9, 9], [1, 0, 0], [2, 4, 6])  # 2 of 6 others have it, before B's 6
    assert screened_hazard_ratios(none, [0, 1], ["A", "B"], "breslow")[1].due == pytest.approx(2.0)


def test_what_is_no_test_is_refused() -> None:
    with pytest.raises(CountError, match="one length"):
        rate_p_above([1, 2], [3], [4], [5])
    with pytest.raises(ValueError, match="A ratio is above 0"):
        rate_p_above([1], [3], [4], [5], 0)
