"""Roots are found to the last digit, however the functions bend."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from regdash.stats.roots import roots, tops


@given(st.lists(st.floats(0.01, 100), min_size=1, max_size=8), st.sampled_from([0.2, 1.0, 3.0, 15.0]))
def test_a_known_root_is_found_from_either_side(known: list[float], power: float) -> None:
    at = np.array(known)
    for sign in (1, -1):
        found = roots(lambda x, sign=sign: sign * (x**power - at**power), np.zeros(len(at)), np.full(len(at), 200.0))
        assert_allclose(found, at, rtol=1e-12 / min(power, 1))


def test_a_root_that_is_one_of_the_ends_is_found() -> None:
    ends = np.array([3.0])
    assert roots(lambda x: x - 3, ends, np.array([5.0])).tolist() == [3]
    assert roots(lambda x: x - 3, np.array([1.0]), ends).tolist() == [3]


def test_steps_and_flat_stretches_do_not_stop_the_search() -> None:
    assert_allclose(roots(lambda x: np.where(x < np.pi, -1.0, 1.0), np.zeros(1), np.full(1, 10.0)), [np.pi], rtol=1e-14)
    assert_allclose(roots(lambda x: (x - 2.0) ** 9, np.zeros(1), np.full(1, 5.0)), [2], atol=1e-12)


def test_nothing_to_find_gives_nothing() -> None:
    assert len(roots(lambda x: x, np.zeros(0), np.zeros(0))) == 0


def test_a_function_without_a_change_of_sign_is_a_bug() -> None:
    with pytest.raises(ArithmeticError, match="same sign"):
        roots(lambda x: x + 1, np.zeros(1), np.ones(1))


def test_tops_are_where_a_slope_falls_not_where_it_rises() -> None:
    assert_allclose(tops(np.cos, np.linspace(0, 12, 7)), [np.pi / 2, 5 * np.pi / 2], rtol=1e-14)
    assert len(tops(lambda x: x - 1, np.array([0.0, 2.0]))) == 0
