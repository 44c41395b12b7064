"""The counts that answers are made from: the event table of a cohort, its patients and its held revisions."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from regdash.cohort import Predicate
from regdash.endpoints import ANY_REVISION, Endpoint
from regdash.stats.events import CENSORED, DIED, FIRST_OUTCOMES, EventTable
from regdash.store.cuts import Cut
from regdash.store.endpoint_counts import count_query
from regdash.store.sqlfiles import statement
from regdash.vocabulary import NOT_RECORDED

LARGEST_TABLE = 1 << 20
REASON_GROUP, REASON_DETAIL = "reason_group", "reason"
MOST_NUMBERS_A_PATIENT = 8
MOST_CELLS_KEPT = 200_000  # of one count, a few megabytes


@dataclass(frozen=True)
class GroupExpressions:
    """How joints are grouped, in SQL that gives whole numbers; made of our own field list, values bound."""

    sql: tuple[str, ...] = ()
    parameters: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, eq=False)
class EventCounts:
    """The event table of a cohort as the database counted it, with the numbers that stand for each group."""

    numbers: tuple[tuple[int, ...], ...]  # one number a grouping expression, for each group
    group: np.ndarray  # (r,) place in `numbers`
    day: np.ndarray  # (r,)
    outcome: np.ndarray  # (r,)
    joints: np.ndarray  # (r,)
    outcomes: tuple[str, ...]  # one of FIRST_OUTCOMES, then reasons

    def ordered(self, order: Sequence[int]) -> "EventCounts":
        """The same counts with the groups in another order: `order` lists their present places."""
        place = np.empty(len(order), dtype=np.int64)
        place[np.array(order, dtype=np.int64)] = np.arange(len(order))
        return replace(self, numbers=tuple(self.numbers[n] for n in order), group=place[self.group])

    def table(self, labels: Sequence[str]) -> EventTable:
        """Make the event table, its groups named."""
        groups = tuple((label,) for label in labels)
        return EventTable(groups, self.outcomes, self.group, self.day, self.outcome, self.joints)


def count_events(
    cut: Cut,
    cohort: Predicate,
    by: GroupExpressions,
    reason: str = REASON_GROUP,
    endpoint: Endpoint = ANY_REVISION,
    compete: bool = False,
) -> EventCounts:
    """
    Count the joints of a cohort that left follow-up, by group, day and outcome.

    Args:
        cohort: joints that the endpoint follows, as `endpoint_counts.followed` narrows them.
        by: expressions on `follow_up`; groups without a joint do not appear.
        reason: the column whose words are the outcomes from 2 on, REASON_GROUP or REASON_DETAIL.
        endpoint: the event; days are those of its clock.
        compete: count revisions that end follow-up otherwise beside deaths, and not as censored.
    """
    reasons = cut.words[f"{reason}_words"]
    if NOT_RECORDED not in reasons:
        reasons = (*reasons, NOT_RECORDED)
    parts = {
        "grouping": "".join(f"{expression} as g{n}, " for n, expression in enumerate(by.sql)),
        "reason": reason,
        "no_reason": str(reasons.index(NOT_RECORDED)),
        "predicate": cohort.sql,
    }
    query, more = count_query(endpoint, DIED if compete else CENSORED, **parts)
    parameters = {**cohort.parameters, **by.parameters, **more}
    found = cut.remembered.get(
        (query, repr(parameters)),
        lambda: cut.columns(query, **parameters),
        lambda found: len(found["joints"]) < MOST_CELLS_KEPT,
    )
    numbers, group = _numbered([found[f"g{n}"] for n in range(len(by.sql))], len(found["joints"]))
    outcomes = (*FIRST_OUTCOMES[compete and endpoint.competes], *reasons)
    return EventCounts(numbers, group, found["day"], found["outcome"], found["joints"], outcomes)


def _numbered(columns: list[np.ndarray], rows: int) -> tuple[tuple[tuple[int, ...], ...], np.ndarray]:
    """Number the groups that occur, in rising order of their columns."""
    if not columns:
        return ((),) if rows else (), np.zeros(rows, dtype=np.int64)
    key = np.zeros(rows, dtype=np.int64)
    if rows:
        for column in columns:
            lowest, span = int(column.min()), int(column.max()) - int(column.min()) + 1
            if (int(key.max()) + 1) * span > np.iinfo(np.int64).max:
                key = _ranked(key)
            key = key * span + (column - lowest)
    group = _ranked(key)
    row_of = np.empty(int(group.max(initial=-1)) + 1, dtype=np.int64)
    row_of[group] = np.arange(rows)  # any row of a group says its numbers
    return tuple(tuple(int(column[row]) for column in columns) for row in row_of), group


def _ranked(key: np.ndarray) -> np.ndarray:
    """Number keys by rising order without gaps; while they are small a table of all of them is faster than sorting."""
    if key.max(initial=0) >= LARGEST_TABLE:
        return np.unique(key, return_inverse=True)[1]
    return (np.cumsum(np.bincount(key) > 0) - 1)[key]


def count_patients(cut: Cut, cohort: Predicate) -> int:
    """Count the patients whose joints are in a cohort."""
    query = statement("queries/patients", predicate=cohort.sql)
    return cut.remembered.get(
        (query, repr(cohort.parameters)), lambda: _counted_patients(cut, query, cohort.parameters), lambda _: True
    )


def _counted_patients(cut: Cut, query: str, parameters: Mapping[str, Any]) -> int:
    patient_no = cut.columns(query, **parameters)["patient_no"]
    # Numbers run over all patients of the cut, with and without a followed joint, so some are left out.
    length = int(patient_no.max()) + 1 if len(patient_no) else 0
    if length > MOST_NUMBERS_A_PATIENT * (cut.manifest.patients + 1):  # no cut of ours; never trust it with memory
        return len(np.unique(patient_no))
    seen = np.zeros(length, dtype=bool)
    seen[patient_no] = True
    return int(np.count_nonzero(seen))


def count_held_revisions(cut: Cut, cohort: Predicate, everything: bool) -> int:
    """Count the held revisions of a cohort's joints; of the whole cut, those without a known joint too."""
    if everything:
        return int(cut.rows(statement("queries/held_revisions_all"))[0][0])
    query = statement("queries/held_revisions", predicate=cohort.sql)
    return int(cut.rows(query, **cohort.parameters)[0][0])
