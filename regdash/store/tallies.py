"""Rows of whole numbers, tallied by group: which cells occur, in rising order, and how many rows are in each."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

MOST_BITS = 62  # of a key that holds a whole row
SPARE_ROOM = 1 << 18  # places of a table of all keys that cost nothing worth saving


@dataclass(frozen=True, eq=False)
class Tally:
    """Cells, rising by the numbers of their group and then by their own; no cell twice."""

    groups: list[np.ndarray]  # one (g,) int64 a field: the numbers of each group that occurs
    group: np.ndarray  # (c,) int64, place in `groups` of each cell's
    cells: list[np.ndarray]  # one (c,) int64 for each other column
    counts: np.ndarray  # (c,) int64, rows in each cell


@dataclass(frozen=True)
class _Packing:
    """How the numbers of a row stand in one key, the first column highest, so that keys rise as rows do."""

    lowest: tuple[int, ...]
    bits: tuple[int, ...]

    @classmethod
    def of(cls, parts: Sequence[Sequence[np.ndarray]]) -> "_Packing":
        columns = list(zip(*parts, strict=True))
        lowest = tuple(min(int(piece.min()) for piece in column) for column in columns)
        highest = [max(int(piece.max()) for piece in column) for column in columns]
        return cls(lowest, tuple((high - low).bit_length() for low, high in zip(lowest, highest, strict=True)))

    @property
    def size(self) -> int:
        """Bits of a key."""
        return sum(self.bits)

    def packed(self, parts: Sequence[Sequence[np.ndarray]]) -> np.ndarray:
        ends = np.cumsum([len(part[0]) for part in parts]).tolist()
        key = np.zeros(ends[-1], dtype=np.int64)
        for part, end in zip(parts, ends, strict=True):
            self._pack(part, key[end - len(part[0]) : end])
        return key

    def _pack(self, columns: Sequence[np.ndarray], key: np.ndarray) -> None:
        for column, low, bits in zip(columns, self.lowest, self.bits, strict=True):
            np.left_shift(key, bits, out=key)
            key += column.astype(np.int64) if column.dtype == np.uint64 else column
            if low:
                key -= low

    def unpacked(self, key: np.ndarray, columns: range) -> list[np.ndarray]:
        """Read some columns again."""
        found = []
        for place in columns:
            column = key >> sum(self.bits[place + 1 :])
            column &= (1 << self.bits[place]) - 1
            column += self.lowest[place]
            found.append(column)
        return found


def tally(parts: Sequence[Sequence[np.ndarray]], fields: int, times: np.ndarray | None = None) -> Tally:
    """
    Count the combinations of columns that occur.

    Args:
        parts: some rows each, as (r,) arrays of whole numbers, none of them missing; all parts have the same columns.
        fields: how many of the columns, the first ones, tell a row's group. It may be none.
        times: (r,) how often each row counts, of all parts together; left out, once.

    >>> found = tally([[np.array([7, 4]), np.array([5, 3])], [np.array([7]), np.array([5])]], 1)
    >>> found.groups[0].tolist(), found.group.tolist(), found.cells[0].tolist(), found.counts.tolist()
    ([4, 7], [0, 1], [3, 5], [1, 2])
    """
    size = len(parts[0])
    parts = [part for part in parts if len(part[0])]
    if not parts:
        nothing = np.zeros(0, dtype=np.int64)
        return Tally([nothing] * fields, nothing, [nothing] * (size - fields), nothing)
    packing = _Packing.of(parts)
    if packing.size > MOST_BITS:
        return _by_column([np.concatenate(column) for column in zip(*parts, strict=True)], fields, times)
    key, counts = _counted(packing.packed(parts), packing.size, times)
    first = _is_other(key >> sum(packing.bits[fields:]))
    return Tally(
        packing.unpacked(key[first], range(fields)),
        np.cumsum(first) - 1,
        packing.unpacked(key, range(fields, size)),
        counts,
    )


def _counted(key: np.ndarray, bits: int, times: np.ndarray | None) -> tuple[np.ndarray, np.ndarray]:
    """The keys that occur, rising, and how often each does; the keys that were given may be sorted."""
    if 1 << bits <= SPARE_ROOM + 2 * len(key):  # a table of all keys costs less than sorting them
        by_key = np.bincount(key, times)
        present = np.flatnonzero(by_key)
        return present, by_key[present].astype(np.int64, copy=False)
    if times is None:
        key.sort()
        starts = np.flatnonzero(_is_other(key))
        return key[starts], np.diff(starts, append=len(key))
    order = np.argsort(key)
    key = key[order]
    starts = np.flatnonzero(_is_other(key))
    return key[starts], np.add.reduceat(times[order].astype(np.int64), starts)


def _is_other(rising: np.ndarray) -> np.ndarray:
    """(r,) bool, where another number begins."""
    other = np.ones(len(rising), dtype=bool)
    np.not_equal(rising[1:], rising[:-1], out=other[1:])
    return other


def _by_column(columns: Sequence[np.ndarray], fields: int, times: np.ndarray | None) -> Tally:
    """As `tally`, for rows that no key holds."""
    order = np.lexsort(columns[::-1])
    rising = [column[order] for column in columns]
    starts = np.flatnonzero(np.any([_is_other(column) for column in rising], axis=0))
    cells = [column[starts].astype(np.int64) for column in rising]
    counts = np.diff(starts, append=len(order)) if times is None else np.add.reduceat(times[order], starts)
    first = np.any([_is_other(column) for column in cells[:fields]], axis=0)
    own = [column[first] for column in cells[:fields]]
    return Tally(own, np.cumsum(first) - 1, cells[fields:], counts.astype(np.int64))
