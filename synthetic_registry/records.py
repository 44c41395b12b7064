"""
Records as hospitals write them: operations, components and reasons by column. Words are positions in lists,
empty cells are EMPTY, and numbers that are not there are negative.
"""

from dataclasses import dataclass, replace

import numpy as np

from regdash import vocabulary as words

EMPTY = 255  # an empty cell in a column of words
NO, YES = 0, 1
PRIMARY, REVISION = 0, 1
assert words.KINDS == ("primary", "revision")

Columns = dict[str, np.ndarray]


@dataclass(frozen=True)
class Records:
    """
    Three tables by column. Components and reasons come operation by operation, in the order of `operations`;
    `component_counts` and `reason_counts` say how many rows belong to each.
    """

    operations: Columns
    components: Columns
    reasons: Columns
    component_counts: np.ndarray
    reason_counts: np.ndarray

    def take(self, at: np.ndarray) -> "Records":
        """Choose operations, in any order and more than once, with their components and reasons."""
        components = ragged(self.component_counts, at)
        reasons = ragged(self.reason_counts, at)
        return Records(
            _taken(self.operations, at),
            _taken(self.components, components),
            _taken(self.reasons, reasons),
            self.component_counts[at],
            self.reason_counts[at],
        )

    def with_operations(self, **columns: np.ndarray) -> "Records":
        """Replace columns of the operations."""
        return replace(self, operations={**self.operations, **columns})

    def with_components(self, **columns: np.ndarray) -> "Records":
        """Replace columns of the components."""
        return replace(self, components={**self.components, **columns})

    def with_reasons(self, **columns: np.ndarray) -> "Records":
        """Replace columns of the reasons."""
        return replace(self, reasons={**self.reasons, **columns})

    def kept(self, components: np.ndarray, reasons: np.ndarray) -> "Records":
        """Keep some of the components and of the reasons, (rows,) bool each, of every operation."""
        owner = np.arange(len(self))
        return Records(
            self.operations,
            _taken(self.components, components),
            _taken(self.reasons, reasons),
            np.bincount(np.repeat(owner, self.component_counts)[components], minlength=len(self)),
            np.bincount(np.repeat(owner, self.reason_counts)[reasons], minlength=len(self)),
        )

    @property
    def component_owner(self) -> np.ndarray:
        """The operation that each component belongs to."""
        return np.repeat(np.arange(len(self)), self.component_counts)

    @property
    def reason_owner(self) -> np.ndarray:
        """The operation that each reason belongs to."""
        return np.repeat(np.arange(len(self)), self.reason_counts)

    def __len__(self) -> int:
        return len(self.component_counts)


def _taken(columns: Columns, at: np.ndarray) -> Columns:
    return {name: values[at] for name, values in columns.items()}


def ragged(counts: np.ndarray, at: np.ndarray) -> np.ndarray:
    """
    Find the rows of chosen groups, where group g has counts[g] rows one after the other.

    >>> ragged(np.array([2, 1, 3]), np.array([2, 0])).tolist()
    [3, 4, 5, 0, 1]
    """
    first = np.cumsum(counts) - counts
    chosen = counts[at]
    within = np.arange(chosen.sum()) - np.repeat(np.cumsum(chosen) - chosen, chosen)
    return np.repeat(first[at], chosen) + within


def together(parts: list[Records]) -> Records:
    """Put records one after the other."""

    def joined(table: str) -> Columns:
        return {
            name: np.concatenate([getattr(part, table)[name] for part in parts]) for name in getattr(parts[0], table)
        }

    return Records(
        joined("operations"),
        joined("components"),
        joined("reasons"),
        np.concatenate([part.component_counts for part in parts]),
        np.concatenate([part.reason_counts for part in parts]),
    )
