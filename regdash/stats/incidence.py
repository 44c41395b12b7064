"""Matrices of joints, covariate patterns × event cells, in the forms that a model multiplies fastest."""

from dataclasses import dataclass
from typing import Protocol

import numpy as np

from regdash.stats.event_cells import Cells
from regdash.stats.products import product

_VALUES = 64  # distinct rows of columns that are summed in one pass


class Columns:
    """A design's matrix, with columns of two values each bundled, so that one pass over the joints sums several."""

    def __init__(self, matrix: np.ndarray) -> None:
        self.matrix = matrix  # (P, K) float
        self.bundles = tuple(_bundles(matrix))
        bundled = {column for bundle in self.bundles for column in bundle.columns}
        self.loose = [column for column in range(matrix.shape[1]) if column not in bundled]


@dataclass(frozen=True, eq=False)
class Bundle:
    """Columns that together take few distinct values."""

    columns: list[int]
    code: np.ndarray  # (P,) int64, number of each pattern's values
    values: np.ndarray  # (codes, columns) the distinct values


class Incidence(Protocol):
    """A matrix of joints, patterns × cells."""

    def in_cells(self, values: np.ndarray) -> np.ndarray:
        """(m,) sums over the joints of each cell of values by pattern, (P,)."""

    def columns_in_cells(self, weights: np.ndarray, columns: Columns) -> np.ndarray:
        """(m, K) sums over the joints of each cell of the columns, times weights by pattern, (P,)."""

    def over_cells(self, values: np.ndarray) -> np.ndarray:
        """(P,) or (P, k) sums over the joints of each pattern of values by cell, (m,) or (m, k)."""


@dataclass(frozen=True, eq=False)
class Dense:
    """Joints at risk as a plain matrix; the fastest where it is small."""

    joints: np.ndarray  # (m, P) float

    def in_cells(self, values: np.ndarray) -> np.ndarray:
        return product(self.joints, values)

    def columns_in_cells(self, weights: np.ndarray, columns: Columns) -> np.ndarray:
        return product(self.joints, weights[:, None] * columns.matrix)

    def over_cells(self, values: np.ndarray) -> np.ndarray:
        return product(self.joints.T, values)


@dataclass(frozen=True, eq=False)
class AtRisk:
    """Joints at risk, kept as rows of joints that leave (or, counted negative, that enter) and where they do."""

    cells: Cells
    patterns: int
    pattern: np.ndarray  # (r,) int64
    place: np.ndarray  # (r,) int64
    joints: np.ndarray | None  # (r,) float; None: 1 each

    def in_cells(self, values: np.ndarray) -> np.ndarray:
        return self.cells.remaining(np.bincount(self.place, self.gathered(values), self.cells.places))

    def columns_in_cells(self, weights: np.ndarray, columns: Columns) -> np.ndarray:
        weight = self.gathered(weights)
        found = np.empty((len(self.cells), columns.matrix.shape[1]))
        for bundle in columns.bundles:
            sums = _bundle_sums(bundle, self.pattern, self.place, weight, self.cells.places)
            found[:, bundle.columns] = self.cells.remaining(sums)
        for column in columns.loose:
            found[:, column] = self.in_cells(weights * columns.matrix[:, column])
        return found

    def over_cells(self, values: np.ndarray) -> np.ndarray:
        running = self.cells.up_to(values)
        if values.ndim == 1:
            return self._by_pattern(running)
        return np.stack([self._by_pattern(column) for column in running.T], axis=1)

    def dense(self) -> Dense:
        """The same as a plain matrix."""
        where = self.place * self.patterns
        where += self.pattern
        by_place = np.bincount(where, self.joints, self.cells.places * self.patterns)
        return Dense(self.cells.remaining(by_place.reshape(-1, self.patterns)))

    def gathered(self, values: np.ndarray) -> np.ndarray:
        """(r,) values by pattern, times joints."""
        found = values[self.pattern]
        if self.joints is not None:
            found *= self.joints
        return found

    def _by_pattern(self, by_place: np.ndarray) -> np.ndarray:
        found = by_place[self.place]
        if self.joints is not None:
            found *= self.joints
        return np.bincount(self.pattern, found, self.patterns)


@dataclass(frozen=True, eq=False)
class Events:
    """Joints with the event, kept as rows."""

    size: int  # cells
    patterns: int
    pattern: np.ndarray  # (e,) int64
    cell: np.ndarray  # (e,) int64
    joints: np.ndarray  # (e,) float

    def in_cells(self, values: np.ndarray) -> np.ndarray:
        return np.bincount(self.cell, values[self.pattern] * self.joints, self.size)

    def columns_in_cells(self, weights: np.ndarray, columns: Columns) -> np.ndarray:
        weight = weights[self.pattern] * self.joints
        found = np.empty((self.size, columns.matrix.shape[1]))
        for bundle in columns.bundles:
            found[:, bundle.columns] = _bundle_sums(bundle, self.pattern, self.cell, weight, self.size)
        for column in columns.loose:
            found[:, column] = np.bincount(self.cell, weight * columns.matrix[self.pattern, column], self.size)
        return found

    def over_cells(self, values: np.ndarray) -> np.ndarray:
        if values.ndim == 1:
            return np.bincount(self.pattern, values[self.cell] * self.joints, self.patterns)
        return np.stack([self.over_cells(column) for column in values.T], axis=1)


def _bundle_sums(bundle: Bundle, pattern: np.ndarray, place: np.ndarray, weight: np.ndarray, places: int) -> np.ndarray:
    """(places, columns) sums of a bundle's columns times weight: counted by its codes, then multiplied out."""
    codes = len(bundle.values)
    where = place * codes
    where += bundle.code[pattern]
    return product(np.bincount(where, weight, places * codes).reshape(places, codes), bundle.values)


def _bundles(matrix: np.ndarray) -> list[Bundle]:
    """Bundle columns with two values each, in their order, while together they take few distinct values."""
    bundles: list[Bundle] = []
    columns: list[int] = []
    code = np.zeros(len(matrix), dtype=np.int64)
    for column, values in enumerate(matrix.T):
        high = values == values.max(initial=-np.inf)
        if np.ptp(values[~high]) if not high.all() else True:
            continue
        both = _renumbered(code * 2 + high)
        if columns and both.max(initial=0) >= _VALUES:
            bundles.append(_bundle(matrix, columns, code))
            columns, both = [], high.astype(np.int64)
        columns, code = [*columns, column], both
    return [*bundles, _bundle(matrix, columns, code)] if columns else bundles


def _renumbered(code: np.ndarray) -> np.ndarray:
    seen = np.bincount(code) > 0
    return (np.cumsum(seen) - 1)[code]


def _bundle(matrix: np.ndarray, columns: list[int], code: np.ndarray) -> Bundle:
    one_of_each = np.zeros(int(code.max()) + 1, dtype=np.int64)
    one_of_each[code] = np.arange(len(code))
    return Bundle(columns, code, matrix[one_of_each][:, columns])
