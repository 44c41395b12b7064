"""How many of the operations that hospitals did are in the register, against their administrative counts."""

from dataclasses import dataclass, replace
from datetime import date

from regdash.reports import records_wording as wording
from regdash.reports.policy import Policy
from regdash.reports.records import Asked, RecordsHead, checked, head, labelled, refuse_many
from regdash.store.cuts import Cut
from regdash.store.sqlfiles import statement


@dataclass(frozen=True)
class CompletenessRow:
    """One group: operations counted in the cut over those that administrative systems count."""

    group: str
    registered: int | None  # in months that can be compared; a count is None where the policy withholds it
    counted: int | None  # by administrative systems, in the same months; None also where there is no count
    completeness: float | None  # registered / counted; above 1 it is a fault
    fault: str | None  # why the figure cannot be right
    without_count: int | None  # operations of the cut in months that have no administrative count
    awaited: int | None  # counted by administrative systems in months that the hospital has not yet reported on
    withheld: str | None = None


@dataclass(frozen=True)
class CompletenessReport:
    """Completeness by group; primaries and revisions are never in one."""

    head: RecordsHead
    rows: tuple[CompletenessRow, ...]


def completeness_report(cut: Cut, policy: Policy, asked: Asked) -> CompletenessReport:
    """
    Answer: which share of what was done has been sent, by hospital, joint, kind, month or year?

    Kinds are kept apart: where neither the question nor its groups say the kind, groups are made by it last.

    Raises:
        FilterError: a word that does not choose records, or more groups than anybody can read.

    Source:
        Registry over administrative count by hospital, joint, kind and month: common practice of registry offices, no
        published source.
    """
    if asked.kind is None and "kind" not in asked.by:
        asked = replace(asked, by=(*asked.by, "kind"))
    predicate = checked(asked.cohort).predicate()
    query = statement("queries/completeness", grouping=asked.grouping, predicate=predicate.sql)
    through = date.fromisoformat(cut.manifest.through_date)
    found = cut.rows(query, **predicate.parameters, kind=asked.kind, through=through)
    refuse_many(len(found), asked)
    keys = len(asked.by)
    found.sort(key=lambda row: asked.place(row[:keys]))
    rows = tuple(_row(policy, labelled(row[:keys]), *row[keys:]) for row in found)
    cautions = (wording.NOT_BOTH_KINDS, wording.COUNTS_HAVE_FAULTS)
    return CompletenessReport(head(cut, policy, asked, "completeness", wording.COMPLETENESS, cautions), rows)


def _row(
    policy: Policy, group: str, registered: int, counted: int | None, without_count: int, awaited: int
) -> CompletenessRow:
    """Write one line; without a count, or with a small one where those are withheld, there is no ratio."""
    why = policy.why_small(registered, counted or 0, abs((counted or 0) - registered))
    ratio = registered / counted if counted and not why else None
    if counted is None:
        registered, why = 0, wording.NO_COUNT
    elif counted == 0:
        why = why or wording.NONE_COUNTED
    is_over = counted is not None and registered > counted and (ratio is not None or counted == 0)
    return CompletenessRow(
        group=group,
        registered=policy.count(int(registered)),
        counted=None if counted is None else policy.count(int(counted)),
        completeness=ratio,
        fault=wording.OVER_FAULT if is_over else None,
        without_count=policy.count(int(without_count)),
        awaited=policy.count(int(awaited)),
        withheld=why,
    )
