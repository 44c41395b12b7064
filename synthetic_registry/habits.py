"""
Habits: surgeons and hospitals lean to what they know, and yet the register as a whole follows
its trends, year by year.
"""

import numpy as np

SLOTS = (0.74, 0.20, 0.06)  # how a surgeon's work is shared between the constructs that he or she uses


def habit_shares(habit: np.ndarray, work: np.ndarray, target: np.ndarray) -> np.ndarray:
    """
    Find each unit's share of a choice so that the work as a whole has the target share each year.

    Args:
        habit: (units,) leaning of each unit on the log-odds scale; -inf never chooses it.
        work: (years, units) relative work.
        target: (years,) share that all the work together should have, 0 to 1.

    Returns:
        (years, units) share of its work in which each unit makes the choice.

    >>> habit_shares(np.array([0.0, 0.0]), np.array([[1.0, 3.0]]), np.array([0.2])).round(6).tolist()
    [[0.2, 0.2]]
    """
    total = np.maximum(work.sum(axis=1), 1e-12)
    low, high = np.full(len(target), -30.0), np.full(len(target), 30.0)
    for _ in range(50):
        shift = (low + high) / 2
        share = (work * _logistic(habit + shift[:, None])).sum(axis=1) / total
        low, high = np.where(share < target, shift, low), np.where(share < target, high, shift)
    return _logistic(habit + ((low + high) / 2)[:, None])


def _logistic(x: np.ndarray) -> np.ndarray:
    return 1 / (1 + np.exp(-np.clip(x, -700, 700)))


def favourites(rng: np.random.Generator, work: np.ndarray, wanted: np.ndarray) -> np.ndarray:
    """
    Choose which constructs each surgeon uses in each year.

    Surgeons use one to three, keep them for some six years or until they are withdrawn, and then take
    one that is used less than it should be; so all constructs get about the use that is wanted.

    Args:
        work: (years, surgeons) relative work.
        wanted: (years, constructs) shares of that work; 0 where a construct is not on the market.

    Returns:
        (years, surgeons, 3) construct in each slot of `SLOTS`; -1 where a slot is not used.
    """
    years, surgeons = work.shape
    slots = rng.choice([1, 2, 3], surgeons, p=[0.25, 0.45, 0.30])
    used = np.arange(3) < slots[:, None]
    weight = np.array(SLOTS) * used
    weight /= weight.sum(axis=1, keepdims=True)
    renewed = rng.random((years, surgeons, 3)) < 1 / 6
    current = np.full((surgeons, 3), -1)
    table = np.empty((years, surgeons, 3), np.int16)
    for year in range(years):
        gone = renewed[year] | (current < 0) | (wanted[year][current] == 0)
        kept = np.where(gone, -1, current)
        current = _filled(rng, kept, used & (work[year] > 0)[:, None], weight * work[year][:, None], wanted[year])
        table[year] = current
    return table


def _filled(
    rng: np.random.Generator, kept: np.ndarray, used: np.ndarray, work: np.ndarray, wanted: np.ndarray
) -> np.ndarray:
    """Put a construct into each used slot that has none (-1), the largest users first."""
    current = kept.copy()
    has = current >= 0
    lacking = wanted * work.sum() - np.bincount(current[has], weights=work[has], minlength=len(wanted))
    empty = np.argwhere(used & ~has)
    empty = empty[np.argsort(-work[empty[:, 0], empty[:, 1]], kind="stable")]
    for (surgeon, slot), draw in zip(empty, rng.random(len(empty))):
        chance = np.maximum(lacking, 0) ** 1.5 + 1e-3 * wanted
        chance[current[surgeon][current[surgeon] >= 0]] = 0
        bounds = np.cumsum(chance)
        if bounds[-1] > 0:
            current[surgeon, slot] = np.searchsorted(bounds, draw * bounds[-1], side="right")
            lacking[current[surgeon, slot]] -= work[surgeon, slot]
    return current
