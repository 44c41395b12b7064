"""Pairs of joints of one patient, counted beside the event table: for errors that hold where such joints resemble."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from regdash.cohort import Predicate
from regdash.endpoints import ANY_REVISION, Endpoint
from regdash.stats.events import CENSORED, DIED
from regdash.store.cuts import Cut
from regdash.store.endpoint_counts import count_query
from regdash.store.event_counts import REASON_GROUP, GroupExpressions
from regdash.store.sqlfiles import statement
from regdash.vocabulary import NOT_RECORDED

ALL_JOINTS = {"first_joint": 0, "end_joint": 2**31 - 1}  # for a query that is asked for some joints at a time


@dataclass(frozen=True, eq=False)
class PairCounts:
    """Pairs of joints of one patient, by where each of the two stands in the event table."""

    group: np.ndarray  # (p, 2) int64, number of the group
    day: np.ndarray  # (p, 2) int64, whole days on the endpoint's clock
    outcome: np.ndarray  # (p, 2) int64, number of the outcome
    pairs: np.ndarray  # (p,) int64, how many


def count_pairs(
    cut: Cut,
    cohort: Predicate,
    by: GroupExpressions,
    numbers: Sequence[tuple[int, ...]],
    reason: str = REASON_GROUP,
    endpoint: Endpoint = ANY_REVISION,
    compete: bool = False,
) -> PairCounts:
    """
    Count the pairs of joints of one patient that are both in a cohort.

    Args:
        numbers: of each group, one a grouping expression, in the order in which the groups are numbered.
        cohort, by, reason, endpoint, compete: as `event_counts.count_events`, whose groups and outcomes these are.
    """
    reasons = cut.words[f"{reason}_words"]
    several = statement("queries/several_joints", predicate=cohort.sql)
    joints, more = count_query(
        endpoint,
        DIED if compete else CENSORED,
        grouping="".join(f"{sql} as g{n}, " for n, sql in enumerate(by.sql)) + "patient_no, joint_no as own_no, ",
        reason=reason,
        no_reason=str(reasons.index(NOT_RECORDED) if NOT_RECORDED in reasons else len(reasons)),
        predicate=f"({cohort.sql}) and patient_no in ({several})",
    )
    groups = "".join(f"joints.g{n} as g{n}, others.g{n} as other_g{n}, " for n in range(len(by.sql)))
    query = statement("queries/pair_counts", joints=joints, groups=groups)
    bounds = {name: value for name, value in ALL_JOINTS.items() if f"${name}" in joints}
    found = cut.columns(query, **cohort.parameters, **by.parameters, **more, **bounds)
    own, other = ([found[f"{side}g{n}"] for n in range(len(by.sql))] for side in ("", "other_"))
    size = len(found["pairs"])
    return PairCounts(
        np.stack([placed(own, numbers, size), placed(other, numbers, size)], axis=1),
        np.stack([found["day"], found["other_day"]], axis=1).astype(np.int64),
        np.stack([found["outcome"], found["other_outcome"]], axis=1).astype(np.int64),
        np.asarray(found["pairs"], dtype=np.int64),
    )


def placed(columns: Sequence[np.ndarray], numbers: Sequence[tuple[int, ...]], size: int) -> np.ndarray:
    """(p,) the group of each row, from its (p,) numbers one a grouping expression."""
    if not columns:
        return np.zeros(size, dtype=np.int64)
    place = {own: group for group, own in enumerate(numbers)}
    return np.array([place[tuple(row)] for row in np.stack(columns, axis=1).tolist()], dtype=np.int64).reshape(size)
