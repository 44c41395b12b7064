"""
How closely the withheld cells of a table of counts follow from the cells and totals that are shown.

A table and its totals are written as one: rows and columns of cells, with the totals of rows in the last column, those
of columns in the last row, and the total of all in the corner. Where a total stands as the difference from a large
number, every line of that larger table adds up to a number that is known, whatever is hidden: cells can then change
only along closed paths, and the furthest a cell can go is a largest flow, in whole numbers.
"""

from collections import deque

import numpy as np

from regdash.errors import CountError

UNBOUNDED = 2**40  # joints: more than there will be


def hidden_bounds(table: np.ndarray, hidden: np.ndarray, least: np.ndarray, row: int, column: int) -> tuple[int, int]:
    """
    Find the smallest and largest number that one withheld cell can be, by all that is shown.

    Args:
        table: (r + 1, c + 1) counts with their totals last.
        hidden: (r + 1, c + 1) bool, cells and totals that are withheld.
        least: (r + 1, c + 1) what a withheld cell is at the least, as anybody knows.
        row, column: the cell; its own bounds are its count where it is shown.

    Returns:
        Both in counts; the larger is UNBOUNDED where nothing bounds it.

    Raises:
        CountError: totals that are none, or a withheld cell below its least.

    Source:
        Exact bounds of cells of a two-way table by network flow: Cox (1995), J Am Stat Assoc 90:1453-1462.

    >>> table = np.array([[3, 9, 12], [8, 20, 28], [11, 29, 40]])
    >>> hidden = np.array([[True, True, False], [True, True, False], [False, False, False]])
    >>> hidden_bounds(table, hidden, np.ones_like(table), 0, 0)
    (1, 10)
    """
    _check(table, hidden, least)
    count = int(table[row, column])
    if not hidden[row, column]:
        return count, count
    up, down = room(table, hidden, least)
    rises = min(int(up[row, column]), _flow(down, up, row, column))
    falls = min(int(down[row, column]), _flow(up, down, row, column))
    if is_total(table, row, column):
        rises, falls = falls, rises
    return count - falls, UNBOUNDED if rises >= UNBOUNDED else count + rises


def room(table: np.ndarray, hidden: np.ndarray, least: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """
    Say how far each cell can go up and down by itself; totals of lines the other way round, the total of all not.

    Returns:
        (r + 1, c + 1) twice, in counts; 0 where a cell is shown.
    """
    above = np.where(hidden, UNBOUNDED, 0)
    below = np.where(hidden, table - least, 0)
    turned = np.zeros(table.shape, dtype=bool)
    turned[-1, :-1] = turned[:-1, -1] = True
    return np.where(turned, below, above), np.where(turned, above, below)


def is_total(table: np.ndarray, row: int, column: int) -> bool:
    """Whether a place is the total of one line, and not a cell or the total of all."""
    return (row == table.shape[0] - 1) != (column == table.shape[1] - 1)


def _check(table: np.ndarray, hidden: np.ndarray, least: np.ndarray) -> None:
    cells = table[:-1, :-1]
    adds = np.array_equal(cells.sum(axis=1), table[:-1, -1]) and np.array_equal(cells.sum(axis=0), table[-1, :-1])
    if not adds or cells.sum() != table[-1, -1]:
        raise CountError("The totals of a table are not the sums of its cells.")
    if np.any(hidden & (table < least)):
        raise CountError("A withheld cell is below what is known of it.")


def _flow(forth: np.ndarray, back: np.ndarray, row: int, column: int) -> int:
    """Find the largest flow from a row to a column, by `forth` from rows and `back` to them, without the cell."""
    rows, columns = forth.shape
    capacity = np.zeros((rows + columns, rows + columns), dtype=np.int64)
    capacity[:rows, rows:], capacity[rows:, :rows] = forth, back.T
    capacity[row, rows + column] = capacity[rows + column, row] = 0
    flowed = 0
    while flowed < UNBOUNDED and (path := _path(capacity, row, rows + column)):
        most = min(int(capacity[one, other]) for one, other in path)
        for one, other in path:
            capacity[one, other] -= most
            capacity[other, one] += most
        flowed += most
    return flowed


def _path(capacity: np.ndarray, start: int, end: int) -> list[tuple[int, int]]:
    """Find a shortest way with room; none is an empty list."""
    came = {start: start}
    waiting = deque([start])
    while waiting and end not in came:
        place = waiting.popleft()
        for following in np.flatnonzero(capacity[place] > 0).tolist():
            if following not in came:
                came[following] = place
                waiting.append(following)
    path, place = [], end
    while end in came and place != start:
        path.append((came[place], place))
        place = came[place]
    return path
