"""A general solver of tables with totals, and tables to solve: for tests of bounds and of what is withheld."""

import numpy as np
from scipy.optimize import linprog

MOST = 2**40


def with_totals(cells: np.ndarray) -> np.ndarray:
    """Add totals as a last row and column."""
    table = np.zeros((cells.shape[0] + 1, cells.shape[1] + 1), dtype=np.int64)
    table[:-1, :-1] = cells
    table[:-1, -1], table[-1, :-1], table[-1, -1] = cells.sum(axis=1), cells.sum(axis=0), cells.sum()
    return table


def solved(table: np.ndarray, hidden: np.ndarray, least: np.ndarray, row: int, column: int) -> tuple[int, int]:
    """
    Solve for the least and the most that one cell can be: lines add up to their totals, what is shown is fixed.

    Numbers of hidden cells are not read.
    """
    shape = table.shape
    place = np.arange(table.size).reshape(shape)
    lines = [(place[i, :-1], place[i, -1]) for i in range(shape[0])]
    lines += [(place[:-1, j], place[-1, j]) for j in range(shape[1])]
    equal = np.zeros((len(lines), table.size))
    for n, (parts, total) in enumerate(lines):
        equal[n, parts], equal[n, total] = 1, -1
    bounds = [
        (low, MOST) if goes else (count, count)
        for count, goes, low in zip(table.ravel(), hidden.ravel(), least.ravel())
    ]
    ends = []
    for sign in (1, -1):
        aim = np.zeros(table.size)
        aim[place[row, column]] = sign
        found = linprog(aim, A_eq=equal, b_eq=np.zeros(len(lines)), bounds=bounds, method="highs")
        assert found.status == 0
        ends.append(round(found.x[place[row, column]]))
    return ends[0], ends[1]
