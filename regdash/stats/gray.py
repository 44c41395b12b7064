"""Do groups differ in cumulative incidence, other causes competing? Gray's test, for any number of groups."""

from collections.abc import Collection, Sequence
from typing import Any

import numpy as np

from regdash.stats.compared import GroupTest, StratumDays, compared_groups, group_test
from regdash.stats.events import DIED, FIRST_REASON, EventTable


def gray_test(
    table: EventTable,
    outcomes: Collection[int] | None = None,
    *,
    compare: Sequence[str] | None = None,
    stratum: Sequence[Any] | np.ndarray | None = None,
    rho: float = 0.0,
) -> GroupTest:
    """
    Test whether groups have the same cumulative incidence; death and all other outcomes compete.

    Args:
        outcomes: numbers of the outcomes that are the event; left out, any revision.
        compare: (groups,) label of the compared group that each of the table's groups is part of; left out, each is
            one of its own.
        stratum: (groups,) stratum of each of the table's groups: only joints of one stratum are compared.
        rho: days are weighted with 1 - the common incidence just before, to this power.

    Raises:
        ModelError: fewer than two groups with joints, no event, or no two groups followed at one time.

    Source:
        Gray (1988), Ann Stat 16:1141-1154, with factors for ties as for drawing without replacement.

    >>> labels, outcomes = (("a",), ("b",)), ("censored", "died", "wear")
    >>> table = EventTable(labels, outcomes, [0, 0, 1, 1], [1, 3, 2, 3], [2, 0, 2, 0], [1, 1, 1, 1])
    >>> [round(group.observed - group.expected, 4) for group in gray_test(table).groups]
    [0.1667, -0.1667]
    """
    if outcomes is None:
        outcomes = range(FIRST_REASON, len(table.outcomes))
    competing = [number for number in range(DIED, len(table.outcomes)) if number not in outcomes]
    groups = compared_groups(table, outcomes, competing, compare, stratum)
    size = len(groups.labels)
    observed, expected, covariance = np.zeros(size), np.zeros(size), np.zeros((size, size))
    for days in groups.strata:
        own = _Stratum(days, rho)
        observed += own.observed
        expected += own.expected
        covariance += own.covariance()
    return group_test(groups, observed, expected, covariance)


class _Stratum:
    """The score of one stratum and its covariance. Letters as in Gray's paper; rows are groups, columns days."""

    def __init__(self, days: StratumDays, rho: float) -> None:
        n, d1, d2 = days.at_risk, days.events, days.competing
        some = np.maximum(n, 1)
        free = np.cumprod(1 - (d1 + d2) / some, axis=1)
        self.free, self.free_before = free, _before(free, 1.0)
        incidence_before = _before(np.cumsum(self.free_before * d1 / some, axis=1), 0.0)
        # A group whose joints are all gone stays out, also where others enter it later.
        here = (n > 0) & (self.free_before > 0)
        self.n, self.d2 = n, d2
        self.h = np.where(here, n / np.where(here, self.free_before, 1), 0)
        self.total = self.h.sum(axis=0)
        self.hits = (d1 * here).sum(axis=0)
        common = np.cumsum(_ratio(self.hits, self.total))
        self.rest, self.rest_before = 1 - common, 1 - _before(common, 0.0)
        self.weight = np.ones(len(days.days)) if rho == 0 else np.maximum(self.rest_before, 0) ** rho
        at_risk = self.h * (1 - incidence_before)
        self.observed = (d1 * here) @ self.weight
        self.expected = _ratio(at_risk, at_risk.sum(axis=0)) @ (self.weight * self.hits)

    def covariance(self) -> np.ndarray:
        """(K, K), a group's day-by-day deviations at a time, with all that they change later."""
        size = len(self.h)
        found = np.zeros((size, size))
        later = _ratio(_ratio(self.hits, self.total), self.rest_before)
        ties = self.hits - 1
        for m in range(size):
            free, free_before, n, h = self.free[m], self.free_before[m], self.n[m], self.h[m]
            pull = -self.weight * _ratio(h, self.total) * self.h
            pull[m] += self.weight * h
            change = np.cumsum(pull * later, axis=1)
            to_come = change[:, -1:] - change
            q = _ratio(self.rest, free)
            by_hit, by_other = pull + (1 - q) * to_come, q * to_come
            alike = np.where(ties > 0, np.maximum(1 - _ratio(ties, self.total * free_before - 1), 0), 1)
            w1 = alike * free_before * _ratio(self.hits, self.total * n)
            w2 = np.where(self.d2[m] > 1, 1 - _ratio(self.d2[m] - 1, n - 1), 1)
            w2 = w2 * free_before**2 * _ratio(self.d2[m], n**2) * (free > 0)
            found += (w1 * by_hit) @ by_hit.T + (w2 * by_other) @ by_other.T
        return found


def _before(values: np.ndarray, start: float) -> np.ndarray:
    """The value just before each day."""
    shifted = np.empty_like(values)
    shifted[..., 0:1], shifted[..., 1:] = start, values[..., :-1]
    return shifted


def _ratio(above: np.ndarray, below: np.ndarray) -> np.ndarray:
    """Divide; 0 where there is nothing to divide by."""
    return np.where(below > 1e-12, above / np.where(below > 1e-12, below, 1), 0)
