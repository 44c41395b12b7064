"""Tables on what was done: operations by period, work at first revisions, reasons by time since the primary."""

from collections.abc import Sequence

from regdash.cohort import Cohort
from regdash.output.done_pages import WORK, RevisionsPart, activity_columns, revision_work_columns
from regdash.output.record import record_of
from regdash.output.sheets import LABEL, Withheld, once
from regdash.output.table import Column
from regdash.output.wording import NONE, count, percent
from regdash.reports import done_groups
from regdash.reports.done_model import DoneHead, RevisionReasonRow
from regdash.reports.revisions import USED
from regdash.summary.asker import Asker
from regdash.summary.document import Provenance, Table
from regdash.summary.sections.names import PLURALS, slug

QUARTERS, YEARS = 8, 5
NO_PRIMARY = "No primary: revisions of joints whose primary is not in the register."
NEVER_DONE = "What was never done in a class is left out here; the workbook and the CSV file have it."
FIRST_ALONE = "First revisions of joints that are registered here."


def operations_by_quarter(asker: Asker, joint: str) -> Table:
    """Count primaries and revisions of the latest quarters."""
    first = asker.quarter
    for _ in range(QUARTERS - 1):
        first = first.before
    words = ("--per", "quarter", "--done", f"{first}..{asker.quarter}")
    report = asker.desk.activity(_of(asker, joint), (), "quarter", words[-1])
    notes = Withheld()
    columns = activity_columns(report.rows, "quarter", asker.level, notes)
    come_from = _provenance(asker, report.head, ("activity", f"joint={joint}", *words))
    title = f"{PLURALS[joint]}: operations of the last {QUARTERS} quarters"
    name = slug("operations-by-quarter", joint)
    return Table(name, title, tuple(columns), record_of(report), come_from, tuple(notes.notes), (NO_PRIMARY,))


def operations_by_year(asker: Asker, joint: str) -> Table:
    """Count primaries and revisions of the latest years by class."""
    first = asker.quarter.year - YEARS + 1
    words = ("--by", "class", "--done", f"{first}..{asker.quarter.year}")
    report = asker.desk.activity(_of(asker, joint), done_groups.parse("class"), "year", words[-1])
    notes = Withheld()
    columns = activity_columns(report.rows, "year", asker.level, notes)
    come_from = _provenance(asker, report.head, ("activity", f"joint={joint}", *words))
    title = f"{PLURALS[joint]}: operations by class and year, {first} to {asker.quarter.year}"
    name = slug("operations-by-year", joint)
    return Table(name, title, tuple(columns), record_of(report), come_from, tuple(notes.notes), (NO_PRIMARY,))


def work_at_first_revisions(asker: Asker, joint: str) -> Table:
    """Say what was done and used at first revisions, by class of the primary."""
    report = asker.desk.revisions(_of(asker, joint), done_groups.parse("class"), first=True)
    notes = Withheld()
    shown = [row for row in report.work if row.kind == USED or row.revisions != 0]
    columns = revision_work_columns(shown, asker.level, notes)
    words = ("revisions", f"joint={joint}", "--by", "class", "--first", "--part", WORK)
    come_from = _provenance(asker, report.head, words)
    title = f"{PLURALS[joint]}: what was done at first revisions, by class of the primary"
    record = record_of(RevisionsPart(report, WORK))
    name = slug("work-at-first-revisions", joint)
    return Table(name, title, tuple(columns), record, come_from, tuple(notes.notes), (FIRST_ALONE, NEVER_DONE))


def reasons_by_time(asker: Asker, joint: str) -> Table:
    """Lay first revisions out by class and reason, a column for each window since the primary."""
    report = asker.desk.revisions(_of(asker, joint), done_groups.parse("class,since"), first=True)
    at = {(row.group, row.reason): row for row in report.rows}
    classes = list(dict.fromkeys(row.group.partition(", ")[0] for row in report.rows))
    windows = [done_groups.SINCE.label(n, {}) for n in range(len(done_groups.SINCE_YEARS) + 1)]
    reasons = list(dict.fromkeys(row.reason for row in report.rows))
    lines = [(one, reason) for one in classes for reason in reasons if _any(at, one, windows, reason)]
    columns = [
        Column("class", once([one for one, _ in lines]), left=True, least=LABEL),
        Column("reason", [reason for _, reason in lines], left=True, least=LABEL),
        *(
            Column(window, [_cell(at.get((f"{one}, {window}", reason))) for one, reason in lines], left=True)
            for window in windows
        ),
    ]
    words = ("revisions", f"joint={joint}", "--by", "class,since", "--first")
    come_from = _provenance(asker, report.head, words)
    title = f"{PLURALS[joint]}: reasons of first revisions by time since the primary"
    said = (
        f"{FIRST_ALONE} In brackets the share, in per cent, of those of the class in the window with a reason; the "
        "files have its exact limits.",
    )
    return Table(slug("reasons-since", joint), title, tuple(columns), record_of(report), come_from, (), said)


def _any(at: dict[tuple[str, str], RevisionReasonRow], one: str, windows: Sequence[str], reason: str) -> bool:
    found = [at.get((f"{one}, {window}", reason)) for window in windows]
    return any(row is not None and row.revisions != 0 for row in found)


def _cell(row: RevisionReasonRow | None) -> str:
    if row is None:
        return NONE
    if row.revisions is None:
        return "withheld"
    return count(row.revisions) if row.share is None else f"{count(row.revisions)} ({percent(row.share)})"


def _of(asker: Asker, joint: str) -> Cohort:
    return asker.cohort(f"joint={joint}", "activity")


def _provenance(asker: Asker, head: DoneHead, command: Sequence[str]) -> Provenance:
    own = asker.noted(head)
    primaries = "" if head.primaries is None else f"{count(head.primaries)} primaries, "
    revisions = f"{count(head.revisions)} revisions, {count(head.unlinked)} of them without a primary here"
    of = f"Operations of the data cut: {primaries}{revisions}; known on {asker.cut.known_as_of}."
    return Provenance(head.measure, str(head.cohort), of, asker.command(*command), own)
