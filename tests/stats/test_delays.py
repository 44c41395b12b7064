"""Order statistics of delays from counts, against numpy's inverted_cdf (definition 1 of Hyndman & Fan, 1996)."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from regdash.errors import CountError
from regdash.stats.delays import order_statistic, share_within


@given(st.lists(st.integers(0, 400), min_size=1, max_size=60))
def test_order_statistics_are_numpys(delays):
    days, counts = np.unique(delays, return_counts=True)
    # The median and the quartiles are exact in binary, so numpy rounds nothing.
    for part, of in ((1, 2), (1, 4), (3, 4), (1, 1)):
        expected = np.quantile(delays, part / of, method="inverted_cdf")
        assert order_statistic(days, counts, part, of) == expected


@given(st.lists(st.integers(0, 400), min_size=1, max_size=60))
def test_the_ninetieth_centile_leaves_at_most_a_tenth_above_it(delays):
    days, counts = np.unique(delays, return_counts=True)
    found = order_statistic(days, counts, 9, 10)
    assert 10 * sum(delay <= found for delay in delays) >= 9 * len(delays)
    assert 10 * sum(delay < found for delay in delays) < 9 * len(delays)


def test_without_delays_there_is_nothing_to_say():
    nothing = np.array([], dtype=np.int64)
    assert order_statistic(nothing, nothing, 1, 2) is None
    assert share_within(nothing, nothing, 30) is None


def test_a_negative_count_is_refused():
    with pytest.raises(CountError):
        order_statistic(np.array([1]), np.array([-1]), 1, 2)
