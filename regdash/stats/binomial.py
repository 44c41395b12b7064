"""Limits of a proportion of joints whose outcome is known for all of them."""

import numpy as np

from regdash.errors import CountError
from regdash.stats.counts import whole_numbers
from regdash.stats.limits import z_score


def binomial_limits(events: np.ndarray, joints: np.ndarray, level: float = 0.95) -> tuple[np.ndarray, np.ndarray]:
    """
    Find the exact limits of proportions. Of no joints, nothing is known: 0 to 1.

    Args:
        events: (m,) int, joints with the event.
        joints: (m,) int, all of them.
        level: two-sided confidence level; each tail has half of the rest.

    Returns:
        (m,) lower and (m,) upper.

    Raises:
        CountError: a negative number, or more events than joints.

    Source:
        Clopper & Pearson (1934), Biometrika 26:404-413.

    >>> lower, upper = binomial_limits(np.array([1]), np.array([10]))
    >>> lower.round(4).tolist(), upper.round(4).tolist()
    ([0.0025], [0.445])
    """
    from scipy.special import betainccinv, betaincinv

    events, joints = checked_shares(events, joints)
    z_score(level)  # refuses a level that is none
    tail, rest = (1 - level) / 2, joints - events
    lower = np.where(events > 0, betaincinv(np.maximum(events, 1), rest + 1, tail), 0.0)
    upper = np.where(rest > 0, betainccinv(events + 1, np.maximum(rest, 1), tail), 1.0)
    return lower, upper


def wilson_limits(events: np.ndarray, joints: np.ndarray, level: float = 0.95) -> tuple[np.ndarray, np.ndarray]:
    """
    Find the score limits of proportions: near the nominal level on average, where the exact ones are always above it.

    Args, Returns, Raises:
        As `binomial_limits`.

    Source:
        Wilson (1927), JASA 22:209-212, without a correction for continuity.

    >>> lower, upper = wilson_limits(np.array([1]), np.array([10]))
    >>> lower.round(4).tolist(), upper.round(4).tolist()
    ([0.0179], [0.4042])
    """
    events, joints = checked_shares(events, joints)
    z, rest = z_score(level), joints - events
    half = np.sqrt(events * rest / np.maximum(joints, 1) + z**2 / 4)
    # Each limit is the smaller root by its conjugate, which keeps the digits of one near 0.
    lower = events**2 / (np.maximum(joints, 1) * (events + z**2 / 2 + z * half))
    return lower, (events + z**2 / 2 + z * half) / (joints + z**2)


def checked_shares(events: np.ndarray, joints: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """
    Read joints with the event, and all of them, as int64.

    Raises:
        CountError: unequal lengths, a negative number, or more events than joints.
    """
    events, joints = whole_numbers("joints with the event", events), whole_numbers("joints", joints)
    if len(events) != len(joints):
        raise CountError(f"Events and joints must be of one length, but are {len(events)} and {len(joints)}.")
    if np.any(events > joints):
        first = int(np.flatnonzero(events > joints)[0])
        raise CountError(f"{events[first]} events cannot come from {joints[first]} joints. Count each joint once.")
    return events, joints
