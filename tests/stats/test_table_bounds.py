"""Bounds of withheld cells against a general solver: scipy.optimize.linprog (HiGHS), a variable a cell and total."""

import numpy as np
import pytest

from regdash.errors import CountError
from regdash.stats.table_bounds import UNBOUNDED, hidden_bounds
from tests.stats.table_solver import solved, with_totals


def test_bounds_are_those_of_a_general_solver() -> None:
    draw, compared, moved = np.random.default_rng(7), 0, 0
    for _ in range(40):
        table = with_totals(draw.poisson(4, (draw.integers(1, 5), draw.integers(1, 5))))
        hidden = (draw.random(table.shape) < draw.choice([0.3, 0.6, 0.9])) & (table > 0)
        least = np.where(hidden, draw.integers(0, 2, table.shape), 0)
        for row, column in np.argwhere(hidden)[:5].tolist():
            low, high = hidden_bounds(table, hidden, least, row, column)
            one, other = solved(table, hidden, least, row, column)
            assert low == one
            assert high == other or (high == UNBOUNDED and other > UNBOUNDED // 16)
            compared, moved = compared + 1, moved + (high > low)
    assert compared > 100
    assert moved > 40


def test_one_cell_beside_its_totals_is_told_exactly() -> None:
    table = with_totals(np.array([[3, 9], [8, 20]]))
    hidden = np.zeros(table.shape, dtype=bool)
    hidden[0, 0] = True
    assert hidden_bounds(table, hidden, np.zeros_like(table), 0, 0) == (3, 3)


def test_totals_that_do_not_add_up_are_refused() -> None:
    table = with_totals(np.array([[3, 9], [8, 20]]))
    table[-1, -1] += 1
    with pytest.raises(CountError):
        hidden_bounds(table, table > 0, np.zeros_like(table), 0, 0)
