"""Delays as counts by whole days: exact order statistics and shares, in whole numbers up to the last division."""

import numpy as np

from regdash.stats.counts import whole_numbers


def order_statistic(days: np.ndarray, counts: np.ndarray, part: int, of: int) -> int | None:
    """
    Find the smallest delay that at least `part / of` of all do not exceed: the inverse of the empirical distribution.

    Args:
        days: (m,) int, whole days, strictly increasing.
        counts: (m,) int, how many have each delay.
        part, of: the share as a fraction, 0 < part <= of, so that no rounding decides.

    Returns:
        The delay in days; None where there is none at all.

    Raises:
        CountError: a negative count or day.

    Source:
        Hyndman & Fan (1996), Am Stat 50:361-365, definition 1.

    >>> order_statistic(np.array([3, 10]), np.array([1, 1]), 1, 2)
    3
    """
    days, upto = whole_numbers("delays", days), np.cumsum(whole_numbers("counts", counts))
    if not len(upto) or not upto[-1]:
        return None
    return int(days[np.searchsorted(of * upto, part * upto[-1])])


def share_within(days: np.ndarray, counts: np.ndarray, most: int) -> float | None:
    """
    Give the proportion whose delay is at most so many days; None where there is none at all.

    >>> share_within(np.array([3, 30, 31]), np.array([1, 1, 2]), 30)
    0.5
    """
    counts = whole_numbers("counts", counts)
    total = int(counts.sum())
    return int(counts[np.asarray(days) <= most].sum()) / total if total else None
