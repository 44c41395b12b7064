"""
Which cells of a table of counts are withheld before everybody sees it: small ones, those that one unit could make small
by taking its own away, and others beside them, until nothing small follows from totals.
"""

from dataclasses import dataclass

import numpy as np

from regdash.errors import CountError
from regdash.stats.table_bounds import UNBOUNDED, hidden_bounds, room

SMALL = "small"
DOMINATED = "what is left of it without one unit's own is small"
BESIDE = "it, with a total, would tell another that is withheld"


@dataclass(frozen=True)
class Reader:
    """Somebody who sees the table and knows a part of it: a unit its own joints, anybody else none."""

    code: str
    own: np.ndarray  # (r + 1, c + 1), with totals as the table


@dataclass(frozen=True)
class Suppressed:
    """What is withheld of a table, with totals last, and why."""

    hidden: np.ndarray  # (r + 1, c + 1) bool
    why: dict[tuple[int, int], str]  # of each that is withheld


def suppressed(table: np.ndarray, readers: list[Reader], under: int, width: int) -> Suppressed:
    """
    Choose what to withhold.

    For every reader, each count of the others from 1 to `under` - 1 is withheld, and by what is shown, with what the
    reader knows, can be any number of an interval whose ends are at least `width` apart. Zeros are shown; that what is
    withheld is at least 1 is taken as known. Cells are added as corners of rectangles, the smallest counts first, since
    four corners can change together whatever the totals; where no rectangle is wide enough all of the table goes.

    Args:
        table: (r + 1, c + 1) counts with totals last.
        readers: units with their own counts in the table.
        under: counts from 1 to below this are small.
        width: in counts.

    Source:
        Rectangles: the hypercube method, Giessing & Repsilber (2002), in Inference Control in Statistical Databases;
        dominance and protection intervals: Hundepool et al. (2012), Statistical Disclosure Control.
    """
    everybody = [Reader("", np.zeros_like(table)), *readers]
    why: dict[tuple[int, int], str] = {}
    guarded: list[tuple[Reader, int, int]] = []
    for reader in everybody:
        left = table - reader.own
        if np.any(left < 0):
            raise CountError("A unit has more joints than there are.")
        for row, column in np.argwhere((left > 0) & (left < under)).tolist():
            if not reader.code or reader.own[row, column]:
                why.setdefault((row, column), DOMINATED if reader.code else SMALL)
                guarded.append((reader, row, column))
    hidden = np.zeros(table.shape, dtype=bool)
    for place in why:
        hidden[place] = True
    while (open_ := _unguarded(table, hidden, guarded, width)) is not None:
        for place in _beside(table, hidden, *open_, width):
            hidden[place] = True
            why.setdefault(place, BESIDE)
    return Suppressed(hidden, why)


def known_least(hidden: np.ndarray, own: np.ndarray) -> np.ndarray:
    """Say what is left of withheld cells at the least, since each is at least 1, to who knows a part of them."""
    return np.where(hidden, np.maximum(1 - own, 0), 0)


def _unguarded(
    table: np.ndarray, hidden: np.ndarray, guarded: list[tuple[Reader, int, int]], width: int
) -> tuple[Reader, int, int] | None:
    for reader, row, column in guarded:
        least = known_least(hidden, reader.own)
        low, high = hidden_bounds(table - reader.own, hidden, least, row, column)
        if high - low < width:
            return reader, row, column
    return None


def _beside(
    table: np.ndarray, hidden: np.ndarray, reader: Reader, row: int, column: int, width: int
) -> list[tuple[int, int]]:
    """Find what to withhold beside a cell: the cheapest rectangle that is wide enough, or everything."""
    everything = [(place[0], place[1]) for place in np.argwhere((table > 0) & ~hidden).tolist()]
    if not everything:
        raise CountError("A table of which nothing is shown tells a count.")
    left, all_hidden = table - reader.own, table > 0
    up, down = room(left, all_hidden, known_least(all_hidden, reader.own))
    best: tuple[int, list[tuple[int, int]]] = (UNBOUNDED, everything)
    for other_row, other_column in np.argwhere(table > 0).tolist():
        corners = ((row, other_column), (other_row, column), (other_row, other_column))
        if other_row == row or other_column == column or any(not table[corner] for corner in corners):
            continue
        beside, under, across = corners
        rises = min(up[row, column], down[beside], down[under], up[across])
        falls = min(down[row, column], up[beside], up[under], down[across])
        added = [corner for corner in corners if not hidden[corner]]
        cost = int(sum(table[corner] for corner in added))
        if added and rises + falls >= width and cost < best[0]:
            best = (cost, added)
    return best[1]
