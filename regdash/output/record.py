"""
The form that programs get: the facts of an answer, then its rows. Field names are an interface that scripts rely on.

A row has all its fields always; `withheld` joins them where a figure is withheld, and says why.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, fields, replace
from functools import singledispatch
from typing import Any

from regdash.output.listing import Listing
from regdash.reports.missing_row import Missing
from regdash.reports.model import (
    CompareReport,
    CompareRow,
    DescribeReport,
    DescribeRow,
    GapReport,
    GapRow,
    Head,
    ImplantReport,
    ImplantRow,
    ImplantsReport,
    JointReport,
    JointsReport,
    RateRow,
    RatesReport,
    ReasonRow,
    ReasonsReport,
    RiskReport,
    RiskRow,
)
from regdash.reports.window_row import WindowRateRow
from regdash.signals.model import ScreenReport, ScreenRow

WITHHELD = "withheld"
Row = dict[str, Any]
_NAMES = {"joint_class": "class"}  # what Python cannot call so


@dataclass(frozen=True)
class Record:
    """Facts of an answer, its rows, and more lists where an answer has several."""

    facts: dict[str, Any]
    columns: tuple[str, ...]  # of a CSV file: every field that a row may have
    rows: list[Row]
    more: dict[str, Any] = field(default_factory=dict)


def columns_of(kind: type) -> tuple[str, ...]:
    """Name the fields of a kind of row."""
    return tuple(_NAMES.get(f.name, f.name) for f in fields(kind))


def row_of(row: Any) -> Row:
    """Write a row with all its fields; why a figure is withheld stands only where one is."""
    written = {_NAMES.get(f.name, f.name): getattr(row, f.name) for f in fields(row)}
    if written.get(WITHHELD, "") is None:
        del written[WITHHELD]
    return written


def _rows(rows: Iterable[Any]) -> list[Row]:
    return [row_of(row) for row in rows]


def record_of_rows(measure: str, kind: type, rows: Iterable[Any]) -> Record:
    """Make a record of rows of one kind that stand without the head of their answer."""
    return Record({"measure": measure}, columns_of(kind), _rows(rows))


def head_facts(head: Head) -> dict[str, Any]:
    """Write the facts that every answer carries. `cohort` and `by` are words that the command line reads back."""
    return {
        "measure": head.measure,
        "view": head.view or None,
        "endpoint": head.endpoint,
        "cohort": str(head.cohort),
        **({} if head.beside is None else {"beside": str(head.beside)}),
        "by": ",".join(map(str, head.by)),
        "cut": head.cut,
        "joints": head.joints,
        "patients": head.patients,
        "revisions": head.revisions,
        "held_revisions": head.held_revisions,
        "median_follow_up": head.median_follow_up,
        "policy": head.settings,
        "method": head.method,
        "cautions": list(head.cautions),
    }


def _table(head: Head, kind: type, rows: Sequence[Any], **more: Any) -> Record:
    return Record(head_facts(head), columns_of(kind), _rows(rows), more)


@singledispatch
def record_of(report: Any) -> Record:
    """Write an answer in the form that programs get."""
    raise TypeError(f"no record for {type(report).__name__}")


@record_of.register
def _(report: RiskReport) -> Record:
    more: dict[str, Any] = {}
    if report.mix:
        more = {"standard_population": _rows(report.mix), "left_out": _rows(report.left_out)}
    record = _table(report.head, RiskRow, report.rows, **more)
    record = _with_differences(record, report) if report.differences else record
    record = _with_ceilings(record, report) if report.ceilings else record
    record = _with_missing(record, report.missing) if report.missing else record
    return _with_margins(record, report) if report.margins else record


DIFFERENCE = ("reference", "difference", "difference_lower", "difference_upper")


def _with_differences(record: Record, report: RiskReport) -> Record:
    """Add to each row the difference from the reference; the reference itself has none."""
    found = {(row.group, row.years): row for row in report.differences}
    reference = report.differences[0].reference
    for row in record.rows:
        at, why = found.get((row["group"], row["years"])), row.pop(WITHHELD, None)
        values = (at.difference, at.lower, at.upper) if at else (None, None, None)
        row |= dict(zip(DIFFERENCE, (reference, *values)))
        if why or (at and at.withheld):
            row[WITHHELD] = why or f"difference: {at and at.withheld}"
    return Record(record.facts, (*record.columns[:-1], *DIFFERENCE, WITHHELD), record.rows, record.more)


CEILING = ("ceiling", "ceiling_at_least", "ceiling_verdict", "ceiling_why")
MARGIN = (
    *("margin", "margin_on", "margin_at_least", "excess", "excess_lower", "excess_upper"),
    *("margin_verdict", "margin_why"),
)


def _with_ceilings(record: Record, report: RiskReport) -> Record:
    """Add to each row whether its risk is below the ceiling."""
    found = {(row.group, row.years): row for row in report.ceilings}
    at = [found[row["group"], row["years"]] for row in record.rows]
    return _joined(record, CEILING, [(row.ceiling, report.at_least, row.verdict, row.why) for row in at])


def _with_margins(record: Record, report: RiskReport) -> Record:
    """Add to each row whether its risk is below the reference's with the margin; the reference itself has none."""
    found = {(row.group, row.years): row for row in report.margins}
    one = report.margins[0]
    stated = (one.margin, one.reference, report.at_least)
    at = [found.get((row["group"], row["years"])) for row in record.rows]
    judged = [(row.excess, row.lower, row.upper, row.verdict, row.why) if row else (None,) * 5 for row in at]
    return _joined(record, MARGIN, [(*stated, *each) for each in judged])


def _with_missing(record: Record, missing: Missing) -> Record:
    """Add to each row its risk if the share of revisions were missing."""
    found = {(row.group, row.years): row.if_missing for row in missing.rows}
    values = [(missing.share, found[row["group"], row["years"]]) for row in record.rows]
    joined = _joined(record, ("missing_share", "estimate_if_missing"), values)
    return replace(joined, more={**joined.more, "missing_from": list(missing.hospitals)})


def _joined(record: Record, names: tuple[str, ...], values: Sequence[tuple[Any, ...]]) -> Record:
    """Add fields to each row, before `withheld`."""
    for row, own in zip(record.rows, values):
        why = {WITHHELD: row.pop(WITHHELD)} if WITHHELD in row else {}
        row |= dict(zip(names, own)) | why
    return Record(record.facts, (*record.columns[:-1], *names, WITHHELD), record.rows, record.more)


@record_of.register
def _(report: CompareReport) -> Record:
    record = _table(
        report.head,
        CompareRow,
        report.rows,
        tests=_rows(report.tests),
        reference=report.reference,
        adjust=",".join(map(str, report.adjust)),
        windows=list(report.windows),
        model=report.model,
        modelled_joints=report.modelled,
        left_out=_rows(report.left_out),
    )
    if report.robust is None:
        return record
    more = {**record.more, "robust": report.robust, "clusters": report.clusters}
    added = _joined(record, ("robust", "clusters"), [(report.robust, report.clusters)] * len(record.rows))
    return Record(added.facts, added.columns, added.rows, more)


@record_of.register
def _(report: GapReport) -> Record:
    one, other = report.groups
    return _table(
        report.head,
        GapRow,
        report.rows,
        years=report.years,
        groups={"group_a": one.label, "group_b": other.label},
        share_limits=_rows(report.shares),
        left_out=_rows(report.left_out),
    )


@record_of.register
def _(report: ReasonsReport) -> Record:
    return _table(report.head, ReasonRow, report.rows)


@record_of.register
def _(report: RatesReport) -> Record:
    if report.windows is not None:
        return _table(report.head, WindowRateRow, report.windows)
    return _table(report.head, RateRow, report.rows)


@record_of.register
def _(report: DescribeReport) -> Record:
    return _table(report.head, DescribeRow, report.rows)


@record_of.register
def _(report: ImplantsReport) -> Record:
    more = {"tested": report.tested, "expected_by_chance": report.expected_by_chance}
    return _table(report.head, ImplantRow, report.rows, **more)


@record_of.register
def _(report: ScreenReport) -> Record:
    record = _table(
        report.head,
        ScreenRow,
        report.rows,
        tested=report.tests,
        signals=report.signals,
        expected_false_signals=report.expected_false,
        not_tested=report.not_tested,
        joints_left_out_of_comparison=report.joints_apart,
        implants_left_out_of_comparison=list(report.apart),
        left_out=_rows(report.left_out),
    )
    asked = {"screened": report.kind, "adjust": ",".join(map(str, report.adjust)), "windows": list(report.windows)}
    made_with = {"screening": report.settings.facts, "reviews": report.used.facts(report.kind)}
    return replace(record, facts={**record.facts, **asked, **made_with})


@record_of.register
def _(report: ImplantReport) -> Record:
    parts = {
        "risk": report.risk.rows,
        "reasons": report.reasons.rows,
        "windows": report.windows,
        "sizes": report.sizes,
        "hospitals": report.hospitals,
        "surgeons": report.surgeons,
    }
    return _table(report.head, ImplantRow, [report.row], **{name: _rows(rows) for name, rows in parts.items()})


@record_of.register
def _(report: JointsReport) -> Record:
    rows = [dict(zip(report.columns, row)) for row in report.rows]
    return Record(head_facts(report.head), report.columns, rows, {"total": report.total, "offset": report.offset})


@record_of.register
def _(report: JointReport) -> Record:
    rows = [{"day": e.day, "date": e.date, "what": e.what, "details": list(e.details)} for e in report.events]
    known = {_key(label): value for label, value in report.facts}
    facts = {**head_facts(report.head), "joint_id": report.joint_id, "facts": known}
    return Record(facts, ("day", "date", "what", "details"), rows)


def _key(label: str) -> str:
    """Write a label for people as a field: "age at the primary" -> "age_at_the_primary"."""
    return label.replace("'", "").replace(" ", "_")


@record_of.register
def _(listing: Listing) -> Record:
    rows = [dict(zip(listing.columns, row)) for row in listing.rows]
    return Record({"measure": listing.measure, **listing.facts}, listing.columns, rows)
