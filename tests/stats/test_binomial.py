"""Limits of proportions against R's."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from regdash.errors import CountError
from regdash.stats.binomial import binomial_limits, wilson_limits
from tests.stats.cases import rows_of, values_of
from tests.stats.finite import assert_finite


def test_exact_and_score_limits_are_those_of_r() -> None:
    rows = rows_of("binomial_limits")
    assert len(rows) == 7
    events, joints = ([int(row[column]) for row in rows] for column in ("x", "n"))
    for found, name in ((binomial_limits(events, joints), "cp"), (wilson_limits(events, joints), "wilson")):
        assert_allclose(found[0], values_of(rows, f"{name}_lower"), rtol=1e-10, atol=1e-15)
        assert_allclose(found[1], values_of(rows, f"{name}_upper"), rtol=1e-10)


@given(st.integers(0, 10**7), st.integers(0, 10**7), st.floats(0.5, 0.999))
def test_events_and_what_is_no_event_have_limits_that_mirror_each_other(events: int, others: int, level: float) -> None:
    for limits in (binomial_limits, wilson_limits):
        lower, upper = limits([events], [events + others], level)
        assert_finite(lower, upper)
        back_lower, back_upper = limits([others], [events + others], level)
        assert_allclose([lower[0], upper[0]], [1 - back_upper[0], 1 - back_lower[0]], atol=1e-9)
        assert 0 <= lower[0] < upper[0] <= 1 + 1e-15
        if events:
            assert lower[0] <= events / (events + others) <= upper[0] + 1e-15


def test_of_no_joints_nothing_is_known() -> None:
    for limits in (binomial_limits, wilson_limits):
        assert np.array(limits([0], [0])).ravel().tolist() == [0, 1]


def test_more_events_than_joints_are_refused_with_both_numbers() -> None:
    with pytest.raises(CountError, match="7 events cannot come from 5 joints"):
        binomial_limits([3, 7], [5, 5])
    with pytest.raises(CountError, match="one length"):
        wilson_limits([3], [5, 5])
