"""Do groups differ in how fast joints are revised? Log-rank tests, stratified, weighted and for trend."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from regdash.errors import ModelError
from regdash.stats.chi_square import ChiSquareTest, chi_square_test
from regdash.stats.compared import GroupTest, StratumDays, compared_groups, group_test
from regdash.stats.events import FIRST_REASON, EventTable


@dataclass(frozen=True)
class TrendTest(ChiSquareTest):
    """Whether groups differ more and more along their scores."""

    z: float  # its square is the statistic; above 0 where more events come with higher scores
    scores: tuple[float, ...]  # of the groups, in their order


def log_rank_test(
    table: EventTable,
    outcomes: Collection[int] | None = None,
    *,
    compare: Sequence[str] | None = None,
    stratum: Sequence[Any] | np.ndarray | None = None,
    rho: float = 0.0,
) -> GroupTest:
    """
    Test whether groups have the same hazard of revision; all that is not the event censors.

    Args:
        outcomes: numbers of the outcomes that are the event; left out, any revision.
        compare: (groups,) label of the compared group that each of the table's groups is part of; left out, each is
            one of its own.
        stratum: (groups,) stratum of each of the table's groups: only joints of one stratum are compared.
        rho: days are weighted with the proportion without the event just before, to this power, within each stratum;
            0 weights all alike, 1 the early ones more.

    Raises:
        ModelError: fewer than two groups with joints, no event, or no two groups followed at one time.

    Source:
        Mantel (1966), Cancer Chemother Rep 50:163-170; Peto & Peto (1972), JRSS A 135:185-207, with the variance of
        drawing without replacement on days with more than one event; weights of Harrington & Fleming (1982),
        Biometrika 69:553-566.

    >>> labels, outcomes = (("a",), ("b",)), ("censored", "died", "wear")
    >>> table = EventTable(labels, outcomes, [0, 0, 1, 1], [1, 3, 2, 3], [2, 0, 2, 0], [1, 1, 1, 1])
    >>> found = log_rank_test(table)
    >>> [round(group.expected, 4) for group in found.groups], round(found.statistic, 4)
    ([0.8333, 1.1667], 0.0588)
    """
    if outcomes is None:
        outcomes = range(FIRST_REASON, len(table.outcomes))
    groups = compared_groups(table, outcomes, (), compare, stratum)
    size = len(groups.labels)
    observed, expected, covariance = np.zeros(size), np.zeros(size), np.zeros((size, size))
    for days in groups.strata:
        weight = _weights(days, rho)
        total, n = days.events.sum(axis=0), days.at_risk.sum(axis=0)
        share = days.at_risk / n
        observed += days.events @ weight
        expected += share @ (total * weight)
        spread = weight**2 * total * (n - total) / np.maximum(n - 1, 1)
        covariance += np.diag(share @ spread) - (share * spread) @ share.T
    return group_test(groups, observed, expected, covariance)


def trend_test(found: GroupTest, scores: Sequence[float] | None = None) -> TrendTest:
    """
    Test whether observed less expected events rise or fall along scores, by the covariance of another test.

    Args:
        found: from `log_rank_test` or `gray_test`.
        scores: one a group, in the order of found; left out, 1, 2, 3 and so on.

    Raises:
        ModelError: a wrong number of scores, or scores that are all the same among groups that can be compared.

    Source:
        Tarone (1975), Biometrika 62:679-682.
    """
    given = np.arange(1, len(found.groups) + 1) if scores is None else np.asarray(scores, dtype=float)
    if len(given) != len(found.groups):
        raise ModelError(f"Each of the {len(found.groups)} groups needs a score, but {len(given)} are given.")
    surplus = np.array([group.observed - group.expected for group in found.groups])
    centred = given - given.mean()
    variance = float(centred @ found.covariance @ centred)
    scale = float(np.abs(centred) @ np.abs(found.covariance) @ np.abs(centred))
    if not variance > 1e-12 * scale:
        raise ModelError("A trend needs scores that differ between groups that can be compared.")
    z = float(centred @ surplus) / variance**0.5
    test = chi_square_test(z**2, 1)
    return TrendTest(test.statistic, test.df, test.p, z, tuple(given.tolist()))


def _weights(days: StratumDays, rho: float) -> np.ndarray:
    """(m,) proportion of all groups together without the event just before each day, to the power rho."""
    if rho == 0:
        return np.ones(len(days.days))
    free = np.cumprod(1 - days.events.sum(axis=0) / days.at_risk.sum(axis=0))
    return np.insert(free, 0, 1)[:-1] ** rho
