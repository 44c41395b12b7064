"""At which times the revisions of a group, and of all others beside it, are told: no step between them is small."""

from collections.abc import Sequence
from itertools import combinations, pairwise

import numpy as np


def told_times(
    own: Sequence[int], others: Sequence[int], can_be: Sequence[bool], under: int, width: int
) -> tuple[int, ...] | None:
    """
    Choose as many times as can be at which both groups are told; what both have together is taken as known at each.

    Counts never fall with time. So one that is withheld lies between those told before and after it, and what it
    leaves of both together lies between those of the others: the interval that this leaves is at least `width` wide
    for a count, or a step since a told time, from 1 up to below `under`.

    Args:
        own, others: revised by each time, and ever, which is told in any case.
        can_be: whether anything is told at each time, by the policy.

    Returns:
        Places of the times, in their order; None where not even the counts of all follow-up alone can be told.

    >>> told_times([7, 9, 13, 20], [90, 95, 99, 120], [True, True, True], 5, 4)
    (0, 2)
    """
    counts = np.array([[0, *own], [0, *others]], dtype=np.int64)
    last = counts.shape[1] - 1
    possible = [place for place in range(1, last) if can_be[place - 1]]
    for number in range(len(possible), -1, -1):
        for chosen in combinations(possible, number):
            if _is_safe(counts, (0, *chosen, last), under, width):
                return tuple(place - 1 for place in chosen)
    return None


def _is_safe(counts: np.ndarray, told: tuple[int, ...], under: int, width: int) -> bool:
    """Whether no step between told times is small, and nothing that is withheld between them is told closely."""
    for first, last in pairwise(told):
        if np.any(_small(counts[:, last] - counts[:, first], under)):
            return False
        if not _is_wide(counts, first, last, under, width):
            return False
    return True


def _is_wide(counts: np.ndarray, first: int, last: int, under: int, width: int) -> bool:
    together = counts.sum(axis=0)
    inner = range(first, last + 1)
    for group in (0, 1):
        own, other = counts[group], counts[1 - group]
        low = {n: max(own[first], together[n] - other[last]) for n in inner}
        high = {n: min(own[last], together[n] - other[first]) for n in inner}
        for sooner, later in combinations(inner, 2):
            step = own[later] - own[sooner]
            if not 0 < step < under or (sooner, later) == (first, last):
                continue
            if high[later] - low[sooner] - max(low[later] - high[sooner], 0) < width:
                return False
    return True


def _small(counts: np.ndarray, under: int) -> np.ndarray:
    return np.asarray((counts > 0) & (counts < under))
