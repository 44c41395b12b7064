"""The counts that answers are made from: the event table of a cohort, its patients and its held revisions."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import numpy as np

from regdash.cohort import Predicate
from regdash.endpoints import ANY_REVISION, Endpoint
from regdash.errors import CountError
from regdash.stats.events import CENSORED, DIED, FIRST_OUTCOMES, FIRST_REASON, EventTable
from regdash.store.cuts import Cut
from regdash.store.endpoint_counts import count_query
from regdash.store.sqlfiles import statement
from regdash.store.tallies import tally
from regdash.vocabulary import NOT_RECORDED

REASON_GROUP, REASON_DETAIL = "reason_group", "reason"
MOST_NUMBERS_A_PATIENT = 8


@dataclass(frozen=True)
class GroupExpressions:
    """How joints are grouped, in SQL that gives whole numbers; made of our own field list, values bound."""

    sql: tuple[str, ...] = ()
    parameters: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, eq=False)
class EventCounts:
    """
    The cells of a cohort's event table, with the numbers that stand for each group.

    Cells of one group stand together, groups in their order. In order, they rise by day and outcome too, and none
    comes twice; counts of groups that were merged are not.
    """

    values: np.ndarray  # (groups, fields) int64, what stands for each group: one number a grouping expression
    group: np.ndarray  # (r,) int64, place in `values`, rising
    day: np.ndarray  # (r,) int64
    outcome: np.ndarray  # (r,) int64
    joints: np.ndarray  # (r,) int64
    outcomes: tuple[str, ...]  # one of FIRST_OUTCOMES, then reasons
    in_order: bool = True

    @cached_property
    def numbers(self) -> tuple[tuple[int, ...], ...]:
        """The same as tuples, one a group."""
        return tuple(map(tuple, self.values.tolist()))

    @property
    def all_joints(self) -> int:
        """Joints of all groups together."""
        return int(self.joints.sum())

    @property
    def events(self) -> int:
        """How many of them left follow-up in the event."""
        return int(self.joints[self.outcome >= FIRST_REASON].sum())

    def ordered(self, order: Sequence[int]) -> "EventCounts":
        """The same counts with the groups in another order: `order` lists their present places."""
        places = np.array(order, dtype=np.int64)
        if np.array_equal(places, np.arange(len(places))):
            return self
        starts = np.searchsorted(self.group, np.arange(len(places) + 1))
        sizes = np.diff(starts)[places]
        ends = np.cumsum(sizes)
        rows = np.arange(len(self.group)) + np.repeat(starts[places] - ends + sizes, sizes)
        cells = (self.day[rows], self.outcome[rows], self.joints[rows])
        group = np.repeat(np.arange(len(places)), sizes)
        return EventCounts(self.values[places], group, *cells, self.outcomes, self.in_order)

    def merged(self, part: np.ndarray, values: np.ndarray) -> "EventCounts":
        """The same counts with neighbouring groups merged: (groups,) the part each goes into, rising; its values."""
        cells = (self.day, self.outcome, self.joints)
        return EventCounts(values, part[self.group], *cells, self.outcomes, in_order=False)

    def table(self, labels: Sequence[str]) -> EventTable:
        """Make the event table, its groups named."""
        groups = tuple((label,) for label in labels)
        cells = (self.group, self.day, self.outcome, self.joints)
        return EventTable(groups, self.outcomes, *cells, checked=self.in_order)


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
    outcomes = (*FIRST_OUTCOMES[compete and endpoint.competes], *reasons)
    return cut.remembered.get(
        (query, repr(parameters), outcomes),
        lambda: tallied(_fetched(cut, endpoint, query, parameters), len(by.sql), outcomes),
        lambda found: len(found.joints),
    )


def _fetched(
    cut: Cut, endpoint: Endpoint, query: str, parameters: Mapping[str, Any]
) -> Sequence[Mapping[str, np.ndarray]]:
    """Joints in parts, or counts of joints."""
    if endpoint == ANY_REVISION:
        return cut.columns_in_parts(query, **parameters)
    return [cut.columns(query, **parameters)]


def tallied(parts: Sequence[Mapping[str, np.ndarray]], fields: int, outcomes: tuple[str, ...]) -> EventCounts:
    """
    Count joints, or add up counts, by group, day and outcome.

    Raises:
        CountError: a cut that gives what no joint can have.
    """
    names = (*(f"g{n}" for n in range(fields)), "day", "outcome")
    if any(np.ma.is_masked(part[name]) for part in parts for name in names):
        raise CountError("The cut has joints without a group, a day or an outcome. Freeze it again.")
    columns = [[np.asarray(part[name]) for name in names] for part in parts]
    tallied = tally(columns, fields, parts[0].get("joints"))
    day, outcome = tallied.cells
    if len(day) and (day.min() < 0 or outcome.max() >= len(outcomes)):
        raise CountError(f"The cut has days from {day.min()} and outcomes to {outcome.max()}. Freeze it again.")
    size = int(tallied.group[-1]) + 1 if len(day) else 0
    values = np.array(tallied.groups, dtype=np.int64).reshape(fields, size).T
    return EventCounts(values, tallied.group, day, outcome, tallied.counts, outcomes)


def count_patients(cut: Cut, cohort: Predicate) -> int:
    """Count the patients whose joints are in a cohort."""
    query = statement("queries/patients", predicate=cohort.sql)
    return cut.remembered.get(
        (query, repr(cohort.parameters)), lambda: _counted_patients(cut, query, cohort.parameters), lambda _: 1
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
    return cut.remembered.get(
        (query, repr(cohort.parameters)), lambda: int(cut.rows(query, **cohort.parameters)[0][0]), lambda _: 1
    )
