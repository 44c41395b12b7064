"""Answers about records as pages of text and in the form that programs get; importing it makes them known to both."""

import textwrap
from collections.abc import Sequence
from typing import Any

from regdash.output.people import Lines, closing, page
from regdash.output.record import Record, Row, columns_of, record_of
from regdash.output.sheets import LABEL, Withheld, once
from regdash.output.table import Column, labelled, lay_out
from regdash.output.wording import NONE, cohort_in_words, count, percent
from regdash.reports.complete_through import CompleteThroughReport, CompleteThroughRow
from regdash.reports.completeness import CompletenessReport, CompletenessRow
from regdash.reports.missingness import MissingReport, MissingRow
from regdash.reports.records import RecordsHead
from regdash.reports.timeliness import DelayRow, DelaysReport
from regdash.reports.wording import fields


def head_facts(head: RecordsHead) -> dict[str, Any]:
    """Write the facts that every answer about records carries."""
    return {
        "measure": head.measure,
        "cohort": str(head.cohort),
        "kind": head.kind,
        "by": ",".join(head.by),
        "cut": head.cut,
        "policy": head.settings,
        "method": head.method,
        "cautions": list(head.cautions),
    }


def records_record(head: RecordsHead, kind: type, rows: Sequence[Any]) -> Record:
    """Write an answer's facts and rows; a row says what it withholds, if anything."""
    columns = columns_of(kind)
    written: list[Row] = [{name: getattr(row, name) for name in columns} for row in rows]
    for row in written:
        if row.get("withheld", "") is None:
            del row["withheld"]
    return Record(head_facts(head), columns, written)


@record_of.register
def _(report: CompletenessReport) -> Record:
    return records_record(report.head, CompletenessRow, report.rows)


@record_of.register
def _(report: DelaysReport) -> Record:
    return records_record(report.head, DelayRow, report.rows)


@record_of.register
def _(report: MissingReport) -> Record:
    return records_record(report.head, MissingRow, report.rows)


@record_of.register
def _(report: CompleteThroughReport) -> Record:
    return records_record(report.head, CompleteThroughRow, report.rows)


@page.register
def _(report: CompletenessReport, width: int) -> Lines:
    notes, rows = Withheld(), report.rows
    shares = [percent(row.completeness) + (" fault" if row.fault else "") for row in rows]
    faults = [(row.group, row.fault) for row in rows if row.fault]
    columns = [
        Column("group", [row.group for row in rows], left=True, least=LABEL),
        Column("in the cut", [count(row.registered) for row in rows]),
        Column("counted", [count(row.counted) for row in rows]),
        Column("complete, %", notes.mark(shares, [row.withheld for row in rows]), left=True),
        Column("no count", [count(row.without_count) for row in rows], rank=1),
        Column("awaited", [count(row.awaited) for row in rows], rank=2),
    ]
    said = [f"A fault: {faults[0][1]}."] if faults else []
    said += ["Counted: by administrative systems. No count: in the cut, in months without one. Awaited: not yet due."]
    return records_page(report.head, columns, width, notes, said)


@page.register
def _(report: DelaysReport, width: int) -> Lines:
    notes, rows = Withheld(), report.rows
    why = [row.withheld for row in rows]
    columns = [
        Column("group", [row.group for row in rows], left=True, least=LABEL),
        Column("operations", [count(row.operations) for row in rows]),
        Column("median, days", notes.mark([count(row.median_days) for row in rows], why)),
        Column("90th centile", [count(row.ninetieth_days) for row in rows]),
        Column("in 30, %", [percent(row.within_30) for row in rows], rank=2),
        Column("in 60, %", [percent(row.within_60) for row in rows], rank=3),
        Column("in 90, %", [percent(row.within_90) for row in rows], rank=1),
        Column("too recent", [count(row.too_recent) for row in rows], rank=4),
    ]
    return records_page(
        report.head, columns, width, notes, ["In 30: received within 30 days, in per cent of those received."]
    )


@page.register
def _(report: MissingReport, width: int) -> Lines:
    notes, rows = Withheld(), report.rows
    columns = [
        Column("group", once([row.group for row in rows]), left=True, least=LABEL),
        Column("field", [row.field for row in rows], left=True),
        Column("applies to", [count(row.records) for row in rows]),
        Column("missing", [count(row.missing) for row in rows]),
        Column("missing, %", notes.mark([percent(row.share) for row in rows], [row.withheld for row in rows])),
    ]
    return records_page(report.head, columns, width, notes, [])


@page.register
def _(report: CompleteThroughReport, width: int) -> Lines:
    rows = report.rows
    columns = [
        Column("feed", once([row.feed for row in rows]), left=True),
        Column("sender", [row.sender for row in rows], left=True),
        Column("sent", [count(row.submissions) for row in rows]),
        Column("complete through", [row.complete_through or NONE for row in rows], left=True),
        Column("days behind", [count(row.days_behind) for row in rows]),
        Column("followed to", [row.followed_to or NONE for row in rows], left=True),
        Column("last received", [row.last_received or NONE for row in rows], left=True, rank=1),
    ]
    return records_page(report.head, columns, width, Withheld(), [])


def records_page(
    head: RecordsHead, columns: Sequence[Column], width: int, notes: Withheld, said: Sequence[str]
) -> Lines:
    """Write what was asked, the table, and how it was made."""
    by = f", by {fields(head.by)}" if head.by else ""
    facts = [("records", _records(head)), ("data cut", head.cut)]
    table = lay_out(columns, width)
    lines = [f"{head.measure[:1].upper()}{head.measure[1:]}{by}", "", *labelled(facts, width), "", *table.lines]
    lines += [] if columns and len(columns[0].cells) else ["(none)"]
    if table.left_out:
        said = [f"Left out at this width (--csv has all): {', '.join(table.left_out)}.", *said]
    lines += [line for text in said for line in ("", *textwrap.wrap(text, width))]
    return [*lines, *closing(head.method, head.cautions, width, notes)]


def _records(head: RecordsHead) -> str:
    """Say which records: kind, then the words of the filter."""
    kinds = f"{head.kind}s" if head.kind else "primaries and revisions"
    return f"{kinds}; {cohort_in_words(head.cohort)}" if head.cohort.conditions else f"{kinds} of the data cut"
