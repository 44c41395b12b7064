"""Axes end at round values and their labels have room."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from regdash.charts.scale import percent_axis, year_axis


@given(largest=st.floats(0, 1), lines=st.integers(1, 60))
def test_every_proportion_lies_on_an_axis_that_is_not_much_too_long(largest, lines):
    axis = percent_axis(largest, lines)
    assert axis.high >= largest - 1e-12
    assert axis.high <= max(2.6 * largest, 0.003)
    assert 2 <= len(axis.ticks) <= 6
    assert axis.ticks[0] == (0.0, "0")


@pytest.mark.parametrize("not_a_number", [float("nan"), float("inf")])
def test_an_axis_exists_for_what_is_no_number(not_a_number):
    assert percent_axis(not_a_number, 10).high == 1.0


@given(horizon=st.sampled_from([0.25, 0.5, 1, 2, 3, 5, 7.5, 10, 12, 13, 15, 20, 25, 60]), columns=st.integers(5, 200))
def test_the_horizon_is_always_labelled_and_labels_have_ten_columns_each(horizon, columns):
    axis = year_axis(horizon, columns)
    assert axis.ticks[-1] == (horizon, f"{horizon:g}")
    assert len(axis.ticks) - 1 <= max(2, columns // 10)
