"""Groups beside each other, stratum by stratum: who was at risk and who had an event on each day. Tests read this."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from regdash.errors import CountError, ModelError
from regdash.stats.chi_square import ChiSquareTest, chi_square_test
from regdash.stats.events import EventTable

# What is smaller is 0 but for rounding. A group of which all others hold a millionth still has 1e-6 of its
# expected events as variance.
_NO_VARIANCE = 1e-11  # of expected events
_RANK = 1e-10  # an eigenvalue of a correlation matrix, of the largest


@dataclass(frozen=True, eq=False)
class StratumDays:
    """One stratum, groups × days on which any joint of it has an event or competes."""

    days: np.ndarray  # (m,) int64, strictly increasing
    at_risk: np.ndarray  # (K, m) float, joints in follow-up just before each day
    events: np.ndarray  # (K, m) float
    competing: np.ndarray  # (K, m) float, joints that had something else, after which the event cannot come


@dataclass(frozen=True, eq=False)
class ComparedGroups:
    """Groups that are compared within strata."""

    labels: tuple[str, ...]
    joints: np.ndarray  # (K,) int64
    strata: tuple[StratumDays, ...]


@dataclass(frozen=True)
class ObservedGroup:
    """What one group contributed to a test."""

    label: str
    joints: int
    observed: float  # events, weighted as the test weights days
    expected: float  # were all groups alike


@dataclass(frozen=True, eq=False)
class GroupTest(ChiSquareTest):
    """Whether groups differ; a small p says that chance seldom makes them differ so much."""

    groups: tuple[ObservedGroup, ...]
    covariance: np.ndarray  # (K, K) of observed - expected
    dropped: tuple[str, ...]  # groups that df leaves out: no event was expected in them, or nobody else followed then


def compared_groups(
    table: EventTable,
    outcomes: Collection[int],
    competing: Collection[int] = (),
    compare: Sequence[str] | None = None,
    stratum: Sequence[Any] | np.ndarray | None = None,
) -> ComparedGroups:
    """
    Lay out the groups of an event table for a test.

    Args:
        outcomes: numbers of the outcomes that are the event.
        competing: numbers of those that compete with it; all others censor.
        compare: (groups,) label of the compared group that each of the table's groups is part of; left out, each is
            one of its own.
        stratum: (groups,) stratum of each of the table's groups; left out, one for all.

    Raises:
        CountError: labels or strata that are not one a group.
        ModelError: fewer than two groups with joints, or no event.
    """
    labels = [", ".join(label) for label in table.groups] if compare is None else list(compare)
    strata = np.zeros(len(table.groups), dtype=np.int64) if stratum is None else np.asarray(stratum)
    for name, given in (("label to compare", labels), ("stratum", strata)):
        if len(given) != len(table.groups):
            raise CountError(f"Each of the {len(table.groups)} groups needs a {name}, but {len(given)} have one.")
    names = tuple(dict.fromkeys(labels))
    group = np.array([names.index(label) for label in labels], dtype=np.int64)
    joints = np.bincount(group[table.group], table.joints, len(names)).astype(np.int64)
    _refuse_single(names, joints)
    event, other = (np.isin(np.arange(len(table.outcomes)), list(which)) for which in (outcomes, competing))
    if not event[table.outcome].any():
        raise ModelError(
            "No joint has the event: there is nothing to compare. Widen the filter or choose another event."
        )
    number = np.unique(strata, return_inverse=True)[1]
    days = tuple(
        _stratum(table, group, number == own, event, other, len(names)) for own in range(number.max(initial=0) + 1)
    )
    return ComparedGroups(names, joints, days)


def group_test(groups: ComparedGroups, observed: np.ndarray, expected: np.ndarray, covariance: np.ndarray) -> GroupTest:
    """
    Measure (K,) observed - expected by their covariance.

    Degrees of freedom are the rank of the covariance: one less than the groups, unless some were never at risk
    together with the others.

    Raises:
        ModelError: no two groups were at risk together when some joints, and not all, had the event.
    """
    kept = (expected > 0) & (np.diag(covariance) > _NO_VARIANCE * expected)
    statistic, df = _measured((observed - expected)[kept], covariance[np.ix_(kept, kept)])
    if df == 0:
        raise ModelError(
            "No two groups were followed on a day on which some of their joints, and not all, had the event: "
            "they cannot be compared."
        )
    found = chi_square_test(statistic, df)
    each = zip(groups.labels, groups.joints.tolist(), observed.tolist(), expected.tolist(), strict=True)
    dropped = tuple(label for label, keep in zip(groups.labels, kept, strict=True) if not keep)
    return GroupTest(
        found.statistic, df, found.p, tuple(ObservedGroup(*values) for values in each), covariance, dropped
    )


def _measured(surplus: np.ndarray, covariance: np.ndarray) -> tuple[float, int]:
    """The square of a vector in units of its covariance, which is singular for vectors that add up to 0; its rank."""
    scale = np.sqrt(np.diag(covariance))
    values, vectors = np.linalg.eigh(covariance / np.outer(scale, scale))
    real = values > _RANK * values.max(initial=0)
    along = vectors[:, real].T @ (surplus / scale)
    return float(np.sum(along**2 / values[real])), int(real.sum())


def _stratum(
    table: EventTable, group: np.ndarray, own: np.ndarray, event: np.ndarray, other: np.ndarray, size: int
) -> StratumDays:
    rows = slice(None) if own.all() else own[table.group]
    day, joints, outcome = table.day[rows], table.joints[rows], table.outcome[rows]
    whose = group[table.group[rows]]
    hit, competes = event[outcome], other[outcome]
    seen = np.zeros(int(day.max(initial=-1)) + 1, dtype=bool)
    seen[day[hit | competes]] = True
    days, place = np.flatnonzero(seen), np.cumsum(seen)  # place: days with events up to and including each day
    m = len(days)

    def counted(which: np.ndarray) -> np.ndarray:
        cell = whose[which] * m + place[day[which]] - 1
        return np.bincount(cell, joints[which], size * m).reshape(size, m)

    left = np.bincount(whose * (m + 1) + place[day], joints, size * (m + 1))
    if table.entered is not None:
        late = slice(None) if own.all() else own[table.entered.group]
        since = np.searchsorted(days, table.entered.day[late], side="right")
        cell = group[table.entered.group[late]] * (m + 1) + since
        left = left - np.bincount(cell, table.entered.joints[late], size * (m + 1))
    at_risk = np.cumsum(left.reshape(size, m + 1)[:, :0:-1], axis=1)[:, ::-1]
    return StratumDays(days, at_risk, counted(hit), counted(competes))


def _refuse_single(labels: tuple[str, ...], joints: np.ndarray) -> None:
    having = [label for label, number in zip(labels, joints.tolist(), strict=True) if number]
    if len(having) < 2:
        only = f"only one group has joints ({having[0]})" if having else "no group has joints"
        raise ModelError(f"A test compares two groups or more, but {only}. Group by another field or widen the filter.")
