"""Wald's sequential test: one fixed question, asked until it is answered. Good years build credit: it is no watch."""

from dataclasses import dataclass
from math import log
from typing import Literal

import numpy as np

from regdash.stats.dated_events import DatedEvents


@dataclass(frozen=True, eq=False)
class SequentialTest:
    """The log likelihood ratio along the calendar, and what was decided."""

    dates: np.ndarray  # (m,) int64, rising
    log_ratio: np.ndarray  # (m,) at the end of each date, of rho against 1; it goes on after a decision
    lower: float  # at or below it, the rate is taken to be as expected
    upper: float  # at or above it, rho times as high
    decision: Literal["as expected", "higher"] | None  # None: go on
    decided_date: int | None


def wald_bounds(alpha: float, beta: float) -> tuple[float, float]:
    """
    Find the bounds of the log likelihood ratio: lower, and upper.

    Args:
        alpha: wanted probability of deciding "higher" where the rate is as expected.
        beta: wanted probability of deciding "as expected" where it is higher.

    Raises:
        ValueError: probabilities that are not above 0 with a sum below 1.

    Source:
        Wald (1945), Ann Math Stat 16:117-186.

    >>> [round(bound, 4) for bound in wald_bounds(0.01, 0.01)]
    [-4.5951, 4.5951]
    """
    if not (0 < alpha < 1 and 0 < beta < 1 and alpha + beta < 1):
        raise ValueError(f"Error probabilities are above 0 and add up to below 1; {alpha} and {beta} do not.")
    return log(beta / (1 - alpha)), log((1 - beta) / alpha)


def sequential_test(watched: DatedEvents, rho: float = 2.0, alpha: float = 0.01, beta: float = 0.01) -> SequentialTest:
    """
    Ask whether a unit's rate is rho times the expected one, or as expected: events × log rho - (rho - 1) × expected.

    Args:
        watched: what was seen and expected, by date; expected first, then the events one by one.
        rho: above 1.
        alpha, beta: as `wald_bounds`.

    Raises:
        ValueError: a rate ratio or a probability that is none.

    Source:
        Spiegelhalter et al. (2003), Int J Qual Health Care 15:7-13.

    >>> test = sequential_test(DatedEvents([1, 2], [0.5, 0.5], [1, 7]))
    >>> test.log_ratio.round(4).tolist(), test.decision, test.decided_date
    ([0.1931, 4.5452], None, None)
    """
    if not 1 < rho < float("inf"):
        raise ValueError(f"The rate ratio to test is above 1; {rho} is not.")
    lower, upper = wald_bounds(alpha, beta)
    expected, events = np.cumsum(watched.expected), np.cumsum(watched.events)
    log_ratio = events * log(rho) - (rho - 1) * expected
    lowest = log_ratio - watched.events * log(rho)
    decided = np.flatnonzero((lowest <= lower) | (log_ratio >= upper))
    if not len(decided):
        return SequentialTest(watched.dates, log_ratio, lower, upper, None, None)
    first = int(decided[0])
    decision: Literal["as expected", "higher"] = "as expected" if lowest[first] <= lower else "higher"
    return SequentialTest(watched.dates, log_ratio, lower, upper, decision, int(watched.dates[first]))
