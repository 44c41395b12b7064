"""Joints counted by group and by covariates together: what models and standardised risks are made from."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from regdash.cohort import Cohort, Known
from regdash.endpoints import ANY_REVISION, Endpoint
from regdash.grouping import Grouping
from regdash.reports import wording
from regdash.reports.counted import Counted, labelled, refuse_outcomes
from regdash.reports.model import Group, LeftOut
from regdash.reports.policy import Policy
from regdash.reports.resembling import Clusters, expressions_of, fields_of
from regdash.stats.design import distinct_patterns
from regdash.stats.events import FIRST_REASON, EventTable
from regdash.store.cuts import Cut
from regdash.store.endpoint_counts import followed
from regdash.store.event_counts import REASON_GROUP, EventCounts, GroupExpressions, count_events
from regdash.vocabulary import NOT_RECORDED


@dataclass(frozen=True, eq=False)
class Covariate:
    """A field, and the level of it that each pattern has."""

    grouping: Grouping
    labels: tuple[str, ...]  # of the levels that occur, in their order
    level: np.ndarray  # (P,) place of each pattern's level in `labels`

    @property
    def key(self) -> str:
        """What the field is called."""
        return self.grouping.field.key


@dataclass(frozen=True, eq=False)
class Patterns:
    """
    Joints whose group and covariates are all recorded, by pattern: group and level of each covariate.

    "Not recorded" is no level: who has it differs from hospital to hospital and from year to year, so that a level of
    that name would compare the joints of some with those of others. Such joints are left out, and counted.
    """

    counted: Counted  # every joint asked about, by group
    numbers: tuple[int, ...]  # places in `counted.groups` of the groups that are recorded
    group: np.ndarray  # (P,) place of each pattern's group in `numbers`
    covariates: tuple[Covariate, ...]
    table: EventTable  # its groups are the patterns
    left_out: tuple[LeftOut, ...]
    clusters: Clusters | None = None  # where they were asked for

    @property
    def groups(self) -> tuple[Group, ...]:
        """The groups that are recorded."""
        return tuple(self.counted.groups[number] for number in self.numbers)

    @property
    def joints(self) -> int:
        """How many joints have a pattern."""
        return int(self.table.joints.sum())

    @property
    def revisions(self) -> int:
        """How many of them are revised."""
        return int(self.table.joints[self.table.outcome >= FIRST_REASON].sum())

    @cached_property
    def joints_by_group(self) -> np.ndarray:
        """(groups,) joints that have a pattern."""
        return np.bincount(self.group[self.table.group], self.table.joints, len(self.numbers)).astype(np.int64)

    def lacking(self, policy: Policy) -> str:
        """What joints that are left out lack: "1,100 have no bmi, 20 no asa"."""
        counts = [(policy.said(left.joints or 0), left.field) for left in self.left_out]
        have = "has" if counts and counts[0][0] == "1" else "have"
        return ", ".join(f"{said} {f'{have} ' if n == 0 else ''}no {field}" for n, (said, field) in enumerate(counts))

    def cautions(self, policy: Policy) -> list[str]:
        """How many joints are left out for what they lack, if any is."""
        missing = self.counted.joints - self.joints
        said = policy.said
        return [wording.left_out(missing, self.counted.joints, self.lacking(policy), said)] if missing else []

    def left_out_by(self, policy: Policy) -> tuple[LeftOut, ...]:
        """How many joints lack each covariate, as far as the policy shows."""
        return tuple(LeftOut(left.field, policy.count(left.joints or 0)) for left in self.left_out)

    def stratum(self) -> tuple[np.ndarray, tuple[str, ...]]:
        """Number the combinations of levels that occur: (P,) each pattern's, and a label for each of them."""
        stratum, occurring = _combined([c.level for c in self.covariates], len(self.group))
        labels = [
            ", ".join(c.labels[number] for c, number in zip(self.covariates, row, strict=True)) or "all"
            for row in occurring.tolist()
        ]
        return stratum, tuple(labels)

    def merged(self, part: np.ndarray, labels: Sequence[str]) -> EventTable:
        """The same joints in fewer groups: (P,) the part that each pattern belongs to."""
        table = self.table
        groups = tuple((label,) for label in labels)
        return EventTable(groups, table.outcomes, part[table.group], table.day, table.outcome, table.joints)


def count_patterns(
    cut: Cut,
    cohort: Cohort,
    by: Sequence[Grouping],
    covariates: Sequence[Grouping],
    reason: str = REASON_GROUP,
    *,
    endpoint: Endpoint = ANY_REVISION,
    compete: bool = True,
    cluster: str | None = None,
) -> Patterns:
    """
    Count a cohort's joints by group and covariates, in one pass over the cut.

    Args:
        reason, endpoint, compete: as `count_events`.
        cluster: one of `resembling.KINDS`, to count by cluster too; a joint whose cluster is not recorded is left out.

    Raises:
        FilterError: an outcome word in the cohort, or more groups than anybody can read.
    """
    refuse_outcomes(cohort)
    fields = (*by, *covariates)
    expressions = GroupExpressions((*(g.sql() for g in fields), *expressions_of(cluster)))
    found = count_events(cut, followed(endpoint, cohort.predicate()), expressions, reason, endpoint, compete)
    numbers = found.values
    merged, part = _by_group(found, numbers[:, : len(by)])
    counted = labelled(cut, cohort, tuple(by), merged, endpoint)
    place = {own: place for place, own in enumerate(counted.numbers)}
    group = np.array([place[own] for own in merged.numbers], dtype=np.int64)[part]
    known = (*fields, *fields_of(cluster))
    missing = np.stack(
        [np.zeros(len(numbers), dtype=bool), *(_unknown(g, n, cut.known) for g, n in zip(known, numbers.T))]
    )
    kept = np.logical_not(missing.any(axis=0))
    own, group = numbers[kept], group[kept]
    first = _starts(own[:, : len(fields)])  # of each pattern: more than one stand for it where clusters part it
    cells = _Cells.of(found, kept, np.cumsum(first) - 1)
    return Patterns(
        counted=counted,
        numbers=tuple(np.unique(group).tolist()),
        group=np.unique(group[first], return_inverse=True)[1],
        covariates=tuple(_covariate(g, n, cut.known) for g, n in zip(covariates, own[first].T[len(by) :])),
        table=cells.table(found.outcomes, int(first.sum()), cluster is None),
        left_out=_left_out(found, known, missing[1:]),
        clusters=None if cluster is None else cells.clusters(cluster, own[:, -1]),
    )


def _starts(numbers: np.ndarray) -> np.ndarray:
    """(P,) bool: where rows of (P, fields) numbers differ from the one before; equal ones stand together."""
    first = np.zeros(len(numbers), dtype=bool)
    first[:1] = True
    first[1:] = (numbers[1:] != numbers[:-1]).any(axis=1)
    return first


def _by_group(found: EventCounts, numbers: np.ndarray) -> tuple[EventCounts, np.ndarray]:
    """Merge counts by the groups' own (P, fields) numbers; and (P,) the part that each pattern went into."""
    first = _starts(numbers)
    part = np.cumsum(first) - 1
    return found.merged(part, numbers[first]), part


def _combined(codes: Sequence[np.ndarray], size: int) -> tuple[np.ndarray, np.ndarray]:
    """As `distinct_patterns`; no codes make one combination, of nothing."""
    if not codes:
        return np.zeros(size, dtype=np.int64), np.zeros((min(size, 1), 0), dtype=np.int64)
    return distinct_patterns(codes, [int(code.max(initial=0)) + 1 for code in codes])


def _unknown(grouping: Grouping, numbers: np.ndarray, known: Known) -> np.ndarray:
    """(P,) whether a pattern's value of a field is not recorded."""
    own, place = np.unique(numbers, return_inverse=True)
    return np.array([grouping.label(number, known) == NOT_RECORDED for number in own.tolist()], dtype=bool)[place]


def _covariate(grouping: Grouping, numbers: np.ndarray, known: Known) -> Covariate:
    own, level = np.unique(numbers, return_inverse=True)
    return Covariate(grouping, tuple(grouping.label(number, known) for number in own.tolist()), level)


@dataclass(frozen=True, eq=False)
class _Cells:
    """The cells of counts whose every field is recorded."""

    part: np.ndarray  # (r,) place of each cell's group among those kept
    pattern: np.ndarray  # (r,) and of its pattern
    day: np.ndarray
    outcome: np.ndarray
    joints: np.ndarray

    @classmethod
    def of(cls, found: EventCounts, kept: np.ndarray, pattern: np.ndarray) -> "_Cells":
        """Keep the cells of some groups, whose patterns are given in their order."""
        group, day, outcome, joints = found.group, found.day, found.outcome, found.joints
        if not kept.all():
            rows = np.flatnonzero(kept[group])
            group, day, outcome, joints = group[rows], day[rows], outcome[rows], joints[rows]
        part = (np.cumsum(kept) - 1)[group]
        return cls(part, pattern[part], day, outcome, joints)

    def table(self, outcomes: tuple[str, ...], patterns: int, in_order: bool) -> EventTable:
        labels = tuple((str(place),) for place in range(patterns))
        return EventTable(labels, outcomes, self.pattern, self.day, self.outcome, self.joints, checked=in_order)

    def clusters(self, kind: str, own: np.ndarray) -> Clusters:
        """Name the cluster of each cell, by the number that stands for it in each group kept."""
        number, labels = distinct_patterns([own], [int(own.max(initial=0)) + 1])
        return Clusters(kind, self.pattern, self.day, self.outcome, self.joints, number[self.part], len(labels))


def _left_out(found: EventCounts, fields: Sequence[Grouping], missing: np.ndarray) -> tuple[LeftOut, ...]:
    joints = np.bincount(found.group, found.joints, len(found.values)).astype(np.int64)
    counts = [(grouping.field.key, int(joints[lacks].sum())) for grouping, lacks in zip(fields, missing)]
    return tuple(LeftOut(key, count) for key, count in counts if count)
