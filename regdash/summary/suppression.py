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
MOVED = "it differs by few from what everybody was told before"
UNTOLD = "everybody was not told it before"
BESIDE = "it, with a total, would tell another that is withheld"


@dataclass(frozen=True)
class Reader:
    """Somebody who sees the table and knows a part of it: a unit its own joints, anybody else none."""

    code: str
    own: np.ndarray  # (r + 1, c + 1), with totals as the table


Place = tuple[int, int]  # row and column
Guarded = tuple[Reader, Place]  # who must not tell the count of which place


@dataclass(frozen=True)
class Suppressed:
    """What is withheld of a table, with totals last, and why."""

    hidden: np.ndarray  # (r + 1, c + 1) bool
    why: dict[Place, str]  # of each that is withheld


def suppressed(
    table: np.ndarray,
    readers: list[Reader],
    under: int,
    width: int,
    before: np.ndarray | None = None,
    known: np.ndarray | None = None,
    told_ever: np.ndarray | None = None,
) -> Suppressed:
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
        before: (r + 1, c + 1) what everybody was told of the same cells earlier, below 0 where it was withheld. What
            was withheld stays so. A cell that differs from it by 1 to `under` - 1, or may do so for a reader whose own
            are among what came late, goes too and is guarded as a small one; and since counts seldom fall, what is
            withheld now is taken to be at least what was told.
        told_ever: (r + 1, c + 1) the most that was told of each earlier, 0 where nothing was; as `before` if left out.
        known: (r + 1, c + 1) bool, what a reader knows from elsewhere, so that nothing is hidden there.

    Raises:
        CountError: a count is told whatever is withheld.

    Source:
        Rectangles: the hypercube method, Giessing & Repsilber (2002), in Inference Control in Statistical Databases;
        dominance and protection intervals: Hundepool et al. (2012), Statistical Disclosure Control.
    """
    why, guarded = _first(table, readers, under, before)
    most = before if told_ever is None else told_ever
    told = np.zeros_like(table) if most is None else np.where(most <= table, most, 0)
    hidden = np.zeros(table.shape, dtype=bool)
    possible = (table > 0) & ~(hidden if known is None else known)
    for place in why:
        hidden[place] = True
    for reader, place in guarded:  # what is withheld only grows, so that who is kept off once stays so
        while not _is_guarded(table, hidden, told, reader, place, width):
            for beside in _beside(table, hidden, possible, told, reader, place, width):
                hidden[beside] = True
                why.setdefault(beside, BESIDE)
    return Suppressed(hidden, why)


def _first(
    table: np.ndarray, readers: list[Reader], under: int, before: np.ndarray | None
) -> tuple[dict[Place, str], list[Guarded]]:
    """Find what goes by itself, and whom it must be kept from."""
    why: dict[Place, str] = {}
    guarded: list[Guarded] = []
    everybody = Reader("", np.zeros_like(table))
    for reader in (everybody, *readers):
        for place in _small(table, reader, under):
            why.setdefault(place, DOMINATED if reader.code else SMALL)
            guarded.append((reader, place))
    if before is not None:
        for reader in (everybody, *readers):
            for place in _moved(table, before, reader, under):
                why.setdefault(place, MOVED)
                guarded.append((reader, place))
        for place in _places((before < 0) & (table > 0)):
            why.setdefault(place, UNTOLD)
    return why, guarded


def _small(table: np.ndarray, reader: Reader, under: int) -> list[Place]:
    """Find where a reader who takes away its own would be left with a small count; anybody, where there is one."""
    left = table - reader.own
    if np.any(left < 0):
        raise CountError("A unit has more joints than there are.")
    return _places((left > 0) & (left < under))


def _moved(table: np.ndarray, before: np.ndarray, reader: Reader, under: int) -> list[Place]:
    """Find what differs by few from what was told, or may do so for a reader whose own joints came late."""
    moved = np.abs(table - before)
    left = moved - np.minimum(reader.own, moved - 1)  # of what came late one at least may be another's
    return _places((before >= 0) & (table > 0) & (moved > 0) & (left < under))


def _places(chosen: np.ndarray) -> list[Place]:
    return [(row, column) for row, column in np.argwhere(chosen).tolist()]


def known_least(left: np.ndarray, hidden: np.ndarray, own: np.ndarray, told: np.ndarray) -> np.ndarray:
    """
    Say what is left of withheld cells at the least to who knows a part of them: each is at least 1, and what was told.

    How many of its own a reader had when it was told is not known here, so that all of what was told may be others'.
    """
    return np.where(hidden, np.maximum(np.maximum(1 - own, 0), np.minimum(told, left)), 0)


def _is_guarded(
    table: np.ndarray, hidden: np.ndarray, told: np.ndarray, reader: Reader, place: Place, width: int
) -> bool:
    """Whether a reader can tell a count no closer than the width: by one rectangle, which is quick, or exactly."""
    left = table - reader.own
    least = known_least(left, hidden, reader.own, told)
    if np.any(_widths(left, hidden, least, place) >= width):
        return True
    low, high = hidden_bounds(left, hidden, least, *place)
    return high - low >= width


def _widths(left: np.ndarray, hidden: np.ndarray, least: np.ndarray, place: Place) -> np.ndarray:
    """
    Say how far a count can move in each rectangle with it, by the corner across.

    Returns:
        (r + 1, c + 1) in counts; 0 where a corner is shown.
    """
    row, column = place
    up, down = room(left, hidden, least)
    rises = np.minimum(np.minimum(down[row][None, :], down[:, column][:, None]), np.minimum(up, up[row, column]))
    falls = np.minimum(np.minimum(up[row][None, :], up[:, column][:, None]), np.minimum(down, down[row, column]))
    corners = hidden & hidden[row][None, :] & hidden[:, column][:, None]
    corners[row, :] = corners[:, column] = False
    return np.where(corners, rises + falls, 0)


def _beside(
    table: np.ndarray,
    hidden: np.ndarray,
    possible: np.ndarray,
    told: np.ndarray,
    reader: Reader,
    place: Place,
    width: int,
) -> list[Place]:
    """Find what to withhold beside a cell: the cheapest rectangle that is wide enough, or everything."""
    row, column = place
    everything = _places(possible & ~hidden)
    if not everything:
        raise CountError("A table of which nothing is shown tells a count.")
    left = table - reader.own
    widths = _widths(left, possible, known_least(left, possible, reader.own, told), place)
    best: tuple[int, list[Place]] = (UNBOUNDED, everything)
    for other_row, other_column in _places(widths >= width):
        corners = ((row, other_column), (other_row, column), (other_row, other_column))
        added = [corner for corner in corners if not hidden[corner]]
        cost = int(sum(table[corner] for corner in added))
        if added and cost < best[0]:
            best = (cost, added)
    return best[1]
