"""Which whole numbers of 100 are told to everybody: with what a unit knows of its own, none tells a small count."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil

import numpy as np

from regdash.summary.plain import in_100


@dataclass(frozen=True)
class InHundred:
    """A number of 100 people at one time, and what stands behind it."""

    revised: int
    risk: float | None  # of which the number is rounded; None where only own editions tell of this time
    before: int | None = None  # the number of 100 that everybody was told earlier for the same time

    @property
    def number(self) -> int:
        """To the nearest whole one, halves up."""
        return in_100(self.risk or 0.0)

    @property
    def bounds(self) -> tuple[int, int]:
        """
        Say between which numbers revised it leaves, to who knows of how many joints it is.

        Revisions never fall from one edition to the next: where the number fell, the earlier one bounds it from below.

        >>> InHundred(30, 0.03).bounds, InHundred(30, 0.0249, 3).bounds
        ((25, 34), (31, 30))
        """
        if not self.revised or not self.risk:
            return 0, self.revised
        effective = self.revised / self.risk
        low, high = (self.number - 0.5) * effective / 100, (self.number + 0.5) * effective / 100
        if self.before is not None and self.before > self.number:
            low = max(low, (self.before - 0.5) * effective / 100)
        return max(ceil(low - 1e-9), 0), ceil(high - 1e-9) - 1


def told(numbers: Sequence[InHundred], owns: np.ndarray, under: int, width: int) -> list[bool]:
    """
    Say which numbers are told.

    Each unit is taken to be told the revisions of all others by its own edition, exactly, wherever they and every step
    since the last that is told are not small. What is small must be left an interval `width` wide by the number of 100
    less its own revisions, between what it is told before and after; and so must the number itself.

    Args:
        numbers: by rising time.
        owns: (units, times) revised of each unit's own.
    """
    every = np.vstack([np.zeros((1, len(numbers)), dtype=np.int64), owns])
    return [all(_is_kept(numbers, own, place, under, width) for own in every) for place in range(len(numbers))]


def _is_kept(numbers: Sequence[InHundred], own: np.ndarray, place: int, under: int, width: int) -> bool:
    others = [one.revised - int(mine) for one, mine in zip(numbers, own)]
    low, high = numbers[place].bounds
    if numbers[place].revised and not own.any() and high - low < width:
        return False
    chain = _chain(others, under)
    if place in chain or others[place] == 0:
        return True
    before = [others[one] for one in chain if one < place]
    after = [others[one] for one in chain if one > place]
    low, high = low - int(own[place]), high - int(own[place])
    return min(high, *after, high) - max(low, *before, 1) >= width


def _chain(others: Sequence[int], under: int) -> list[int]:
    """Find at which times a unit is told the others' revisions: where they, and the step to them, are not small."""
    last, found = 0, []
    for place, number in enumerate(others):
        if number == last or (number >= under and number - last >= under):
            found.append(place)
            last = number
    return found
