"""Days and years; the rule itself is common practice, no published source."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from regdash.stats.years import days_in, years_in


@pytest.mark.parametrize(("years", "days"), [(0, 0), (1, 365), (2, 730), (3, 1095), (4, 1461), (10, 3652), (15, 5478)])
def test_years_end_on_the_last_whole_day_of_365_25_each(years: float, days: int) -> None:
    assert days_in(years) == days


@given(st.integers(0, 60_000))
def test_days_said_in_years_and_back_are_the_same_days(days: int) -> None:
    assert days_in(years_in(days)) == days


@given(st.floats(0, 150))
def test_the_day_found_is_in_the_span_and_the_next_one_is_not(years: float) -> None:
    assert days_in(years) <= years * 365.25 + 1e-9 < days_in(years) + 1


def test_a_whole_axis_of_days_turns_into_years() -> None:
    assert years_in(np.array([0, 1461, 3652.5])).tolist() == [0, 4, 10]


@pytest.mark.parametrize("years", [-1, float("nan"), float("inf")])
def test_a_span_that_is_none_is_refused(years: float) -> None:
    with pytest.raises(ValueError, match="0 or more"):
        days_in(years)
