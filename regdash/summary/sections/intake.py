"""Intake and data quality: what came, how complete and how late it is, what is missing, and what has no primary."""

from regdash.cohort import Cohort
from regdash.output.record import record_of
from regdash.output.sheets import LABEL, Withheld, once
from regdash.output.table import Column
from regdash.output.wording import NONE, count, percent
from regdash.reports.completeness import CompletenessReport
from regdash.reports.linked import LinkedReport
from regdash.reports.missingness import MissingReport
from regdash.reports.submitted_rows import ReceivedRow
from regdash.reports.timeliness import DelaysReport
from regdash.summary.asker import Asker
from regdash.summary.document import Block, Paragraph, Provenance, Section, Table
from regdash.summary.sections.names import slug
from regdash.summary.tables import plain_record, shortened

SENT = ("submissions", "received", "accepted", "held", "rejected", "known_already")
MISSING_SHOWN = 0.02  # share from which a field is listed on paper


def section(asker: Asker) -> Section:
    """Say how far the records can be trusted."""
    parts = (_received(asker), _complete(asker), _late(asker), _lacking(asker), _linked(asker))
    return Section("intake", "Intake and data quality", (), parts)


def _year(asker: Asker) -> tuple[str, Cohort]:
    words = f"implanted={asker.quarter.year}"
    return words, asker.cohort(words, "intake")


def _received(asker: Asker) -> Section:
    report = asker.desk.received(Cohort())
    asker.noted(report.head)
    kinds = list(dict.fromkeys(row.kind for row in report.rows))
    totals = [
        (kind, *(sum(getattr(row, name) for row in report.rows if row.kind == kind) for name in SENT)) for kind in kinds
    ]
    columns = [Column("kind", kinds, left=True)]
    columns += [
        Column(name.replace("_", " "), [count(row[n + 1]) for row in totals], rank=1 if name == "submissions" else 0)
        for n, name in enumerate(SENT)
    ]
    come_from = Provenance(report.head.measure, "", f"Rows of all files received by {asker.cut.known_as_of}.")
    record = plain_record(report.head.measure, ("kind", *SENT), totals)
    whole = Table("rows-received", "Rows received, by what became of them", tuple(columns), record, come_from)
    senders = _senders(asker, [row for row in report.rows if row.kind == "operations"], come_from)
    return Section("received", "What was received", (whole, *senders))


def _senders(asker: Asker, rows: list[ReceivedRow], come_from: Provenance) -> tuple[Block, ...]:
    """List senders of operations, those with the most rows that are held or rejected first."""
    if not rows:
        return ()
    rows = sorted(rows, key=lambda row: (-(row.held + row.rejected), row.sender))
    columns = [Column("hospital", [row.sender for row in rows], left=True)]
    columns += [
        Column(
            name.replace("_", " "), [count(getattr(row, name)) for row in rows], rank=1 if name == "submissions" else 0
        )
        for name in SENT
    ]
    columns.append(Column("last received", [row.last_received or NONE for row in rows], left=True, rank=2))
    told = [(row.sender, *(getattr(row, name) for name in SENT), row.last_received) for row in rows]
    record = plain_record("rows received by hospital", ("hospital", *SENT, "last_received"), told)
    table = Table("rows-received-by-hospital", "Rows of operations, by hospital", tuple(columns), record, come_from)
    return (shortened(table, asker.edition.rows_on_paper, "those with most rows held or rejected first"),)


def _complete(asker: Asker) -> Section:
    words, cohort = _year(asker)
    report = asker.desk.completeness(cohort, ("joint",))
    own = asker.desk.completeness(cohort, ("hospital", "joint"))
    said = Paragraph(
        f"Operations of {asker.quarter.year} in the cut over those that hospitals' administrative systems count, in "
        "months that can be compared."
    )
    table = completeness_table(asker, "completeness", "Completeness by joint and kind", report, words)
    hospitals = completeness_table(
        asker, "completeness-by-hospital", "Completeness by hospital, joint and kind", own, words, "hospital,joint"
    )
    lowest = shortened(hospitals, asker.edition.rows_on_paper, "in the order of their codes")
    return Section("completeness", "Completeness", (said, table, lowest))


def completeness_table(
    asker: Asker, name: str, title: str, report: CompletenessReport, words: str, by: str = "joint"
) -> Table:
    """Give completeness by group; over 100 % is marked as a fault."""
    notes, rows = Withheld(), report.rows
    shares = [percent(row.completeness) + (" fault" if row.fault else "") for row in rows]
    columns = (
        Column(f"{by.replace(',', ', ')}, kind", [row.group for row in rows], left=True, least=LABEL),
        Column("in the cut", [count(row.registered) for row in rows]),
        Column("counted", [count(row.counted) for row in rows]),
        Column("complete, %", notes.mark(shares, [row.withheld for row in rows]), left=True),
        Column("no count", [count(row.without_count) for row in rows], rank=1),
        Column("awaited", [count(row.awaited) for row in rows], rank=2),
    )
    faults = list(dict.fromkeys(row.fault for row in rows if row.fault))
    said = tuple(f"A fault: {fault}." for fault in faults)
    come_from = asker.records_provenance(report.head, ("quality", "completeness", words, "--by", by))
    return Table(name, title, columns, record_of(report), come_from, tuple(notes.notes), said)


def _late(asker: Asker) -> Section:
    words = f"implanted={asker.quarter.year - 1}.."
    report = asker.desk.delays(asker.cohort(words, "intake"), ("joint", "kind"))
    return Section("delays", "Delay", (*_late_said(report), _delays_table(asker, report, words)))


def _late_said(report: DelaysReport) -> tuple[Paragraph, ...]:
    """Say which share of revisions comes late, where there is a figure."""
    rows = [row for row in report.rows if row.group.endswith("revision") and row.within_90 is not None]
    said = [
        f"{percent(1 - (row.within_90 or 0))} % of {count(row.operations)} {row.group.split(',')[0]} revisions "
        "came later "
        "than 90 days"
        for row in rows
    ]
    if not said:
        return ()
    return (Paragraph(f"The latest quarters are incomplete, and their figures will change: {'; '.join(said)}."),)


def _delays_table(asker: Asker, report: DelaysReport, words: str) -> Table:
    notes, rows = Withheld(), report.rows
    why = [row.withheld for row in rows]
    columns = (
        Column("joint, kind", [row.group for row in rows], left=True, least=LABEL),
        Column("operations", [count(row.operations) for row in rows]),
        Column("median, days", notes.mark([count(row.median_days) for row in rows], why)),
        Column("90th centile", notes.mark([count(row.ninetieth_days) for row in rows], why)),
        Column("in 30 days, %", notes.mark([percent(row.within_30) for row in rows], why), rank=2),
        Column("in 60 days, %", notes.mark([percent(row.within_60) for row in rows], why), rank=3),
        Column("in 90 days, %", notes.mark([percent(row.within_90) for row in rows], why), rank=1),
        Column("too recent", [count(row.too_recent) for row in rows], rank=4),
    )
    come_from = asker.records_provenance(report.head, ("quality", "delays", words, "--by", "joint,kind"))
    return Table("delays", "Days from operation to record", columns, record_of(report), come_from, tuple(notes.notes))


def _lacking(asker: Asker) -> Section:
    words, cohort = _year(asker)
    report = asker.desk.missing(cohort, ("joint",))
    return Section("missing", "Missing fields", (missing_table(asker, report, words),))


def missing_table(asker: Asker, report: MissingReport, words: str) -> Table:
    """List the fields that are missing often; the record has every field."""
    rows = [row for row in report.rows if row.share is None or row.share >= MISSING_SHOWN]
    notes = Withheld()
    columns = (
        Column("joint", once([row.group for row in rows]), left=True),
        Column("field", [row.field for row in rows], left=True),
        Column("applies to", [count(row.records) for row in rows]),
        Column("missing", [count(row.missing) for row in rows]),
        Column("missing, %", notes.mark([percent(row.share) for row in rows], [row.withheld for row in rows])),
    )
    come_from = asker.records_provenance(report.head, ("quality", "missing", words, "--by", "joint"))
    least = f"Fields missing in {100 * MISSING_SHOWN:g} % or more are shown; the workbook and the CSV file have all."
    title = f"Fields that are missing, operations of {asker.quarter.year}"
    return Table("missing-fields", title, columns, record_of(report), come_from, tuple(notes.notes), (least,))


def _linked(asker: Asker) -> Section:
    words, cohort = _year(asker)
    report = asker.desk.linked(cohort, ("joint",))
    title = f"Revisions of {asker.quarter.year} that have a primary"
    table = linked_table(asker, report, slug("linked", words), title)
    return Section("linked", "Revisions and their primaries", (table,))


def linked_table(asker: Asker, report: LinkedReport, name: str, title: str) -> Table:
    """Give the share of revisions that have a primary, and why the others have none."""
    notes, rows, causes = Withheld(), report.rows, report.causes
    columns = [
        Column("joint", [row.group for row in rows], left=True),
        Column("revisions", [count(row.revisions) for row in rows]),
        Column("linked", [count(row.linked) for row in rows]),
        Column("linked, %", notes.mark([percent(row.share) for row in rows], [row.withheld for row in rows])),
        Column("by decision", [count(row.by_decision) for row in rows], rank=1),
        *(Column(cause, [count(row.unlinked[cause]) for row in rows], rank=2 + n) for n, cause in enumerate(causes)),
    ]
    come_from = asker.records_provenance(report.head, ())
    told = [_linked_row(row.group, row.revisions, row.linked, row.share, row.by_decision) for row in rows]
    for row, written in zip(rows, told, strict=True):
        written |= {cause.replace(" ", "_"): row.unlinked[cause] for cause in causes}
        written |= {"withheld": row.withheld} if row.withheld else {}
    names = (
        "group",
        "revisions",
        "linked",
        "share",
        "by_decision",
        *(cause.replace(" ", "_") for cause in causes),
        "withheld",
    )
    record = plain_record(report.head.measure, names, [])
    record.rows.extend(told)
    return Table(name, title, tuple(columns), record, come_from, tuple(notes.notes))


def _linked_row(*values: object) -> dict[str, object]:
    return dict(zip(("group", "revisions", "linked", "share", "by_decision"), values, strict=True))
