"""Joints counted by date of implantation too: what calendar windows need beyond the event table."""

from collections.abc import Sequence

import numpy as np

from regdash.cohort import Predicate
from regdash.endpoints import ANY_REVISION, Endpoint
from regdash.stats.events import CENSORED
from regdash.stats.window_rates import DatedCounts
from regdash.store.cuts import Cut
from regdash.store.endpoint_counts import count_query
from regdash.store.event_counts import REASON_GROUP, GroupExpressions
from regdash.store.pair_counts import ALL_JOINTS, placed
from regdash.store.sqlfiles import statement
from regdash.vocabulary import NOT_RECORDED


def count_dated(
    cut: Cut,
    cohort: Predicate,
    by: GroupExpressions,
    numbers: Sequence[tuple[int, ...]],
    endpoint: Endpoint = ANY_REVISION,
) -> tuple[DatedCounts, ...]:
    """
    Count the joints of a cohort by date of implantation, day and outcome, group by group.

    Args:
        numbers: of each group, one a grouping expression, in the order in which the groups are numbered.
        cohort, by, endpoint: as `event_counts.count_events`, whose groups these are.

    Returns:
        For each group its counts; dates are whole days since 1970-01-01.
    """
    reasons = cut.words[f"{REASON_GROUP}_words"]
    grouping = "".join(f"{sql} as g{n}, " for n, sql in enumerate(by.sql))
    joints, more = count_query(
        endpoint,
        CENSORED,
        grouping=f"{grouping}(implanted_date - date '1970-01-01')::integer as implanted, joint_no as own_no, ",
        reason=REASON_GROUP,
        no_reason=str(reasons.index(NOT_RECORDED) if NOT_RECORDED in reasons else len(reasons)),
        predicate=cohort.sql,
    )
    bounds = {name: value for name, value in ALL_JOINTS.items() if f"${name}" in joints}
    query = statement("queries/dated_counts", joints=joints)
    found = cut.columns(query, **cohort.parameters, **by.parameters, **more, **bounds)
    group = placed([found[f"g{n}"] for n in range(len(by.sql))], numbers, len(found["day"]))
    names = ("implanted", "day", "outcome", "joints")
    return tuple(
        DatedCounts(*(np.asarray(found[name], dtype=np.int64)[group == place] for name in names))
        for place in range(len(numbers))
    )
