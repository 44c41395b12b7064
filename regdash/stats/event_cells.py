"""The event cells, stratum × day with an event: when a model compares those who have it with those at risk."""

from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np


@dataclass(frozen=True, eq=False)
class Cells:
    """
    The event cells, stratum by stratum and day by day, and where any other day falls between them.

    A joint's place says in how many of its stratum's cells it is: one more place than cells in each stratum.
    """

    stratum: np.ndarray  # (m,) int64, rising; strata are numbered 0 to strata - 1
    day: np.ndarray  # (m,) int64, rising within a stratum
    events: np.ndarray  # (m,) int64, joints with the event
    strata: int

    def __len__(self) -> int:
        return len(self.day)

    @property
    def places(self) -> int:
        """How many places there are."""
        return len(self) + self.strata

    @cached_property
    def bounds(self) -> list[tuple[int, int]]:
        """First cell, and the cell after the last, of each stratum."""
        edges = np.searchsorted(self.stratum, np.arange(self.strata + 1)).tolist()
        return list(pairwise(edges))

    def places_of(self, stratum: np.ndarray, day: np.ndarray) -> np.ndarray:
        """Find the place after the last cell of each stratum up to and including each day."""
        span = int(self.day.max(initial=0)) + 1
        key, own = stratum * span + np.minimum(day, span - 1), self.stratum * span + self.day
        if not _fits(self.strata * span, len(key)):
            return np.searchsorted(own, key, side="right") + stratum
        cells_up_to = np.cumsum(np.bincount(own, minlength=self.strata * span))
        return (cells_up_to + np.repeat(np.arange(self.strata), span))[key]

    def remaining(self, by_place: np.ndarray) -> np.ndarray:
        """Turn sums over joints by place, (places, ...), into sums over the joints at risk in each cell, (m, ...)."""
        at_risk = np.empty((len(self), *by_place.shape[1:]))
        for number, (first, end) in enumerate(self.bounds):
            later = by_place[first + number + 1 : end + number + 1]
            at_risk[first:end] = np.cumsum(later[::-1], axis=0)[::-1]
        return at_risk

    def remaining_by_row(self, by_place: np.ndarray) -> np.ndarray:
        """The same for (P, places), giving (P, m)."""
        at_risk = np.empty((len(by_place), len(self)))
        for number, (first, end) in enumerate(self.bounds):
            later = by_place[:, first + number + 1 : end + number + 1]
            at_risk[:, first:end] = np.cumsum(later[:, ::-1], axis=1)[:, ::-1]
        return at_risk

    def up_to(self, by_cell: np.ndarray) -> np.ndarray:
        """Add up values of the cells, (m, ...), over the cells before each place, (places, ...)."""
        running = np.zeros((self.places, *by_cell.shape[1:]))
        for number, (first, end) in enumerate(self.bounds):
            np.cumsum(by_cell[first:end], axis=0, out=running[first + number + 1 : end + number + 1])
        return running


def event_cells(stratum: np.ndarray, day: np.ndarray, joints: np.ndarray, strata: int) -> tuple[Cells, np.ndarray]:
    """
    Find the cells of joints with the event, and each one's cell.

    >>> cells, cell = event_cells(np.array([0, 0, 0]), np.array([7, 3, 7]), np.array([1, 1, 2]), 1)
    >>> cells.day.tolist(), cells.events.tolist(), cell.tolist()
    ([3, 7], [1, 3], [1, 0, 1])
    """
    span = int(day.max(initial=0)) + 1
    key = stratum * span + day
    if _fits(strata * span, len(key)):
        seen = np.bincount(key, minlength=strata * span) > 0
        own, cell = np.flatnonzero(seen), (np.cumsum(seen) - 1)[key]
    else:
        own, cell = np.unique(key, return_inverse=True)
    return Cells(own // span, own % span, np.bincount(cell, joints, len(own)).astype(np.int64), strata), cell


def _fits(size: int, rows: int) -> bool:
    """Whether a table of every stratum and day costs less than sorting."""
    return size <= 2**22 + 4 * rows
