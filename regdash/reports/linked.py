"""Which share of the revisions has a primary, and why the others have none."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Any

from regdash.reports.policy import Policy
from regdash.reports.records import Asked, RecordsHead, checked, head, labelled, refuse_many
from regdash.store.cuts import Cut
from regdash.store.sqlfiles import statement

METHOD = (
    "The linked share is the number of revisions that have a primary over all revisions of this data cut, each at its "
    "own hospital and in its own year. A rule joins a revision to the primary of the same patient, joint and side; "
    "people decide on single links."
)
UNLINKED_COUNT_NOWHERE = "A revision without a primary counts in no risk: each makes risks look lower."


@dataclass(frozen=True)
class LinkedRow:
    """Revisions of one group; what is small is None where the policy withholds it."""

    group: str
    revisions: int | None
    linked: int | None
    share: float | None  # linked / revisions
    by_decision: int | None  # that a person joined to their primary, or took from it
    unlinked: dict[str, int | None]  # by why they have no primary
    withheld: str | None = None


@dataclass(frozen=True)
class LinkedReport:
    """The linked share by group, and the reasons for which any revision of the answer has no primary."""

    head: RecordsHead
    causes: tuple[str, ...]  # the most frequent first
    rows: tuple[LinkedRow, ...]


def linked_report(cut: Cut, policy: Policy, asked: Asked) -> LinkedReport:
    """
    Answer: which share of the revisions has a primary, by hospital, region, joint, year or month?

    Raises:
        FilterError: a word that does not choose records, or more groups than anybody can read.
    """
    predicate = checked(asked.cohort).predicate()
    query = statement("queries/linked_revisions", grouping=asked.grouping, predicate=predicate.sql)
    keys = len(asked.by)
    found = sorted(cut.rows(query, **predicate.parameters), key=lambda row: asked.place(row[:keys]))
    groups = [(group, list(rows)) for group, rows in groupby(found, lambda row: row[:keys])]
    refuse_many(len(groups), asked)
    counts: Counter[str] = Counter()
    for row in found:
        if row[keys] is not None:
            counts[row[keys]] += row[keys + 1]
    causes = tuple(sorted(counts, key=lambda cause: (-counts[cause], cause)))
    rows = tuple(_row(policy, labelled(group), causes, [row[keys:] for row in rows]) for group, rows in groups)
    return LinkedReport(head(cut, policy, asked, "linked share", METHOD, (UNLINKED_COUNT_NOWHERE,)), causes, rows)


def _row(policy: Policy, group: str, causes: Sequence[str], found: list[tuple[Any, ...]]) -> LinkedRow:
    by_cause = {cause: revisions for cause, revisions, _ in found}
    linked, total = by_cause.get(None, 0), sum(by_cause.values())
    unlinked = [by_cause.get(cause, 0) for cause in causes]
    why = policy.why_small(total, linked, total - linked)
    return LinkedRow(
        group=group,
        revisions=policy.count(total),
        linked=policy.count(linked),
        share=None if why else linked / total,
        by_decision=policy.count(sum(decided for *_, decided in found)),
        unlinked={cause: policy.count(count) for cause, count in zip(causes, unlinked, strict=True)},
        withheld=why,
    )
