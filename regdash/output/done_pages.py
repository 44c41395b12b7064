"""What was done, as pages of text and in the form that programs get; importing it makes the answers known to both."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from regdash.output.people import Lines, closing, page, tabled, wrapped
from regdash.output.record import Record, columns_of, record_of
from regdash.output.sheets import LABEL, Withheld, groups_column, limits_heading
from regdash.output.table import Column, labelled
from regdash.output.wording import NONE, Limits, cohort_in_words, count, number, percent, so_many, with_limits
from regdash.reports.done_groups import SINCE
from regdash.reports.done_model import (
    ActivityReport,
    ActivityRow,
    DoneHead,
    RevisionListReport,
    RevisionReasonRow,
    RevisionsReport,
    RevisionWorkRow,
)
from regdash.reports.wording import fields

REASONS, WORK = "reasons", "work"  # the parts of an answer on revisions


@dataclass(frozen=True)
class RevisionsPart:
    """One part of an answer on revisions, alone."""

    report: RevisionsReport
    part: str


def _facts(head: DoneHead) -> dict[str, Any]:
    return {
        "measure": head.measure,
        "cohort": str(head.cohort),
        "by": ",".join(map(str, head.by)),
        "cut": head.cut,
        "primaries": head.primaries,
        "revisions": head.revisions,
        "unlinked_revisions": head.unlinked,
        "held_revisions": head.held_revisions,
        "policy": head.settings,
        "method": head.method,
        "cautions": list(head.cautions),
    }


def _rows(kind: type, rows: Sequence[Any]) -> list[dict[str, Any]]:
    """Write rows; what says why a figure is withheld is left out where none is."""
    names = columns_of(kind)
    return [
        {name: getattr(row, name) for name in names if not name.endswith("withheld") or getattr(row, name) is not None}
        for row in rows
    ]


@record_of.register
def _(report: ActivityReport) -> Record:
    facts = {**_facts(report.head), "per": report.per}
    return Record(facts, columns_of(ActivityRow), _rows(ActivityRow, report.rows))


@record_of.register
def _(report: RevisionsReport) -> Record:
    rows = _rows(RevisionReasonRow, report.rows)
    return Record(_facts(report.head), columns_of(RevisionReasonRow), rows, {WORK: _rows(RevisionWorkRow, report.work)})


@record_of.register
def _(asked: RevisionsPart) -> Record:
    kind, rows = (
        (RevisionReasonRow, asked.report.rows) if asked.part == REASONS else (RevisionWorkRow, asked.report.work)
    )
    return Record(_facts(asked.report.head), columns_of(kind), _rows(kind, rows))


@record_of.register
def _(report: RevisionListReport) -> Record:
    rows = [dict(zip(report.columns, row, strict=True)) for row in report.rows]
    return Record(_facts(report.head), report.columns, rows, {"total": report.total, "offset": report.offset})


# Columns


def change(value: float | None) -> str:
    """
    Write a change in per cent with its sign.

    >>> change(0.041), change(-0.5), change(0.0001), change(None)
    ('+4.1', '-50.0', '0.0', '–')
    """
    written = percent(value)
    return f"+{written}" if value is not None and value > 0 and written != percent(0.0) else written


def activity_columns(rows: Sequence[ActivityRow], per: str, level: float, notes: Withheld) -> list[Column]:
    """Show operations by group and period."""
    burden: list[Limits] = [(row.burden, row.lower, row.upper) for row in rows]
    several = len({row.group for row in rows}) > 1
    # Where nothing is withheld there is no such figure: no operation, or none of their primaries here.
    whys = [row.withheld if row.primaries is None or row.revisions is None else None for row in rows]
    return [
        *([groups_column(rows)] if several else []),
        Column(per, [row.period for row in rows], left=True),
        Column("primaries", [count(row.primaries) for row in rows]),
        Column("change, %", [change(row.primaries_change) for row in rows], rank=1),
        Column("revisions", [count(row.revisions) for row in rows]),
        Column("change, %", [change(row.revisions_change) for row in rows], rank=2),
        Column("first", [count(row.first) for row in rows], rank=5),
        Column("later", [count(row.later) for row in rows], rank=4),
        Column("no primary", [count(row.unlinked) for row in rows], rank=3),
        Column(
            limits_heading("burden, %", level),
            notes.mark(with_limits(burden, 1, 100), whys),
            left=True,
        ),
    ]


def revision_reason_columns(rows: Sequence[RevisionReasonRow], level: float, notes: Withheld) -> list[Column]:
    """Show what revisions were for: counts and shares."""
    shares: list[Limits] = [(row.share, row.lower, row.upper) for row in rows]
    differs = any(row.difference is not None for row in rows)
    points = [NONE if row.difference is None else change(row.difference) for row in rows]
    return [
        groups_column(rows),
        Column("reason", [row.reason for row in rows], left=True, least=LABEL),
        Column("revisions", [count(row.revisions) for row in rows]),
        Column(
            limits_heading("share, %", level),
            notes.mark(with_limits(shares, 1, 100), [row.withheld for row in rows]),
            left=True,
        ),
        *([Column("points", points, rank=1)] if differs else []),
    ]


def revision_rate_columns(rows: Sequence[RevisionReasonRow], level: float, notes: Withheld) -> list[Column]:
    """Show how often joints in place were first revised for each reason."""
    rates: list[Limits] = [(row.per_100_implant_years, row.rate_lower, row.rate_upper) for row in rows]
    decimals = 3  # of one reason a year they are mostly below a tenth
    return [
        groups_column(rows),
        Column("reason", [row.reason for row in rows], left=True, least=LABEL),
        Column("first", [count(row.first) for row in rows]),
        Column("implant-years", [number(row.implant_years, 0) for row in rows], rank=1),
        Column(
            limits_heading("per 100 years", level),
            notes.mark(with_limits(rates, decimals), [row.rate_withheld for row in rows]),
            left=True,
        ),
    ]


def revision_work_columns(rows: Sequence[RevisionWorkRow], level: float, notes: Withheld) -> list[Column]:
    """Show what was done and used."""
    shares: list[Limits] = [(row.share, row.lower, row.upper) for row in rows]
    return [
        groups_column(rows),
        Column("kind", _kinds(rows), left=True),
        Column("at the revision", [row.what for row in rows], left=True, least=LABEL),
        Column("revisions", [count(row.revisions) for row in rows]),
        Column("of", [count(row.of) for row in rows], rank=1),
        Column(
            limits_heading("share, %", level),
            notes.mark(with_limits(shares, 1, 100), [row.withheld for row in rows]),
            left=True,
        ),
    ]


def _kinds(rows: Sequence[RevisionWorkRow]) -> list[str]:
    """Write done or used where it changes."""
    before = [None, *((row.group, row.kind) for row in rows)]
    return ["" if (row.group, row.kind) == last else row.kind for row, last in zip(rows, before)]


def list_columns(report: RevisionListReport) -> list[Column]:
    """Show a list of revisions."""
    titles = {"done_date": "done", "years_since": "years", "sequence": "revision", "joint_id": "joint"}
    narrow = ("joint_id", "done_date", "class", "years_since", "reason", "action")
    columns = []
    for place, name in enumerate(report.columns):
        values = [row[place] for row in report.rows]
        cells = [number(v, 2) if isinstance(v, float) else NONE if v is None else str(v) for v in values]
        columns.append(
            Column(
                titles.get(name, name).removesuffix("_id"),
                cells,
                left=name not in ("years_since", "sequence"),
                rank=0 if name in narrow else len(report.columns) - place + (name == "operation_id") * 20,
                least=LABEL if name in ("reason", "action") else None,
            )
        )
    return columns


# Pages


def _opening(head: DoneHead, width: int) -> Lines:
    names = [one.field.about if one == SINCE else str(one) for one in head.by]
    by = f", by {fields(names)}" if names else ""
    title = f"{head.measure[:1].upper()}{head.measure[1:]}{by}"
    held = f"{count(head.held_revisions)} held back"
    unlinked = f"{count(head.unlinked)} of them without a primary here"
    primaries = [] if head.primaries is None else [("primaries", count(head.primaries))]
    facts = [
        ("cohort", cohort_in_words(head.cohort)),
        ("data cut", head.cut),
        *primaries,
        ("revisions", f"{count(head.revisions)}, {unlinked}; {held}"),
    ]
    return [*wrapped(title, width), "", *labelled(facts, width), ""]


def _level(head: DoneHead) -> float:
    return float(head.settings["confidence_level"])


@page.register
def _(report: ActivityReport, width: int) -> Lines:
    notes, head = Withheld(), report.head
    table = tabled(activity_columns(report.rows, report.per, _level(head), notes), width)
    said = "Change: on the year before. Burden: revisions of all operations. No primary: whose primary is not here."
    return [
        *_opening(head, width),
        *table,
        "",
        *wrapped(said, width),
        *closing(head.method, head.cautions, width, notes),
    ]


@page.register
def _(report: RevisionsReport, width: int) -> Lines:
    return _revisions_page(report, (REASONS, WORK), width)


@page.register
def _(asked: RevisionsPart, width: int) -> Lines:
    return _revisions_page(asked.report, (asked.part,), width)


def _revisions_page(report: RevisionsReport, parts: Sequence[str], width: int) -> Lines:
    notes, head = Withheld(), report.head
    level = _level(head)
    lines = _opening(head, width)
    if REASONS in parts:
        lines += [*tabled(revision_reason_columns(report.rows, level, notes), width), ""]
        if any(row.per_100_implant_years is not None for row in report.rows):
            lines += [*tabled(revision_rate_columns(report.rows, level, notes), width), ""]
    if WORK in parts:
        lines += [*tabled(revision_work_columns(report.work, level, notes), width), ""]
    said = "Share: of the revisions of the group, of a reason those with one."
    if any(row.difference is not None for row in report.rows) and REASONS in parts:
        said += f" Points: the share less that of {report.groups[0].label}, in percentage points."
    said += " First: first revisions that ended follow-up." if REASONS in parts else ""
    return [*lines, *wrapped(said, width), *closing(head.method, head.cautions, width, notes)]


@page.register
def _(report: RevisionListReport, width: int) -> Lines:
    first, last = report.offset + 1, report.offset + len(report.rows)
    none = f"None of {so_many(report.total, 'revision')}."
    which = f"Revisions {first:,} to {last:,} of {report.total:,}." if report.rows else none
    head = report.head
    lines = [*_opening(head, width), *tabled(list_columns(report), width), "", which]
    return [*lines, *closing(head.method, head.cautions, width, Withheld())]
