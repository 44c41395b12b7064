"""Which joints belong together (to one patient, surgeon or hospital): listed one by one, or counted in pairs."""

from dataclasses import dataclass
from typing import Any

import numpy as np

from regdash.errors import CountError
from regdash.stats.counts import whole_numbers
from regdash.stats.influence import Followed


@dataclass(frozen=True, eq=False)
class JointRows:
    """
    Joints one by one, each with its cluster.

    Raises:
        CountError: columns of unequal length, or numbers that are broken or missing.
    """

    cluster: np.ndarray  # (r,) whole numbers; which they are does not matter
    day: np.ndarray  # (r,) whole days since implantation, the last of follow-up
    cause: np.ndarray  # (r,) 0: no event; else 1 + the number of the cause; for a net risk, 1: revised
    entered: np.ndarray | None = None  # (r,) at risk from the next day on; -1, or left out: from before day 0

    def __post_init__(self) -> None:
        _check(self, {"cluster": "cluster numbers", "day": "days", "cause": "causes"}, (len(self.day),))
        if self.entered is not None and len(self.entered) != len(self.day):
            raise CountError(f"Each of {len(self.day):,} joints needs an entry, but {len(self.entered):,} have one.")

    def followed(self) -> Followed:
        """Give their follow-up."""
        before = np.full(len(self.day), -1) if self.entered is None else np.asarray(self.entered, dtype=np.int64)
        return Followed(self.day, self.cause, before)


@dataclass(frozen=True, eq=False)
class JointPairs:
    """
    Pairs of joints of one patient, counted by where follow-up of each ended.

    A patient with two joints is one pair; one with more gives every two of them. Which joint of a pair comes first
    does not matter, unless the two belong to different groups (`shared_covariance`). Patients with one joint are
    in no pair. Joints that enter on different days must be listed as rows.

    Raises:
        CountError: columns of unequal length, or numbers that are broken or missing.
    """

    day: np.ndarray  # (p, 2)
    cause: np.ndarray  # (p, 2) as in JointRows
    pairs: np.ndarray  # (p,) how many
    landmark: int = -1  # all joints that were counted entered at the end of this day; -1: before day 0

    def __post_init__(self) -> None:
        size = len(np.atleast_1d(self.pairs))
        _check(self, {"pairs": "counts of pairs"}, (size,))
        _check(self, {"day": "days of pairs", "cause": "causes of pairs"}, (size, 2))

    def followed(self, which: int) -> Followed:
        """Give the follow-up of the first (0) or the second (1) joint of each."""
        return Followed(self.day[:, which], self.cause[:, which], np.full(len(self.pairs), self.landmark))


def _check(rows: Any, names: dict[str, str], shape: tuple[int, ...]) -> None:
    for field, name in names.items():
        given = np.ma.asarray(getattr(rows, field))
        if given.shape != shape:
            raise CountError(f"The {name} must come as {_words(shape)} numbers, but come as {_words(given.shape)}.")
        object.__setattr__(rows, field, whole_numbers(name, given.reshape(-1)).reshape(shape))


def _words(shape: tuple[int, ...]) -> str:
    return " × ".join(f"{size:,}" for size in shape)
