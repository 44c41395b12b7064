"""The revised joints of one unit, one by one: for the committee alone."""

from dataclasses import replace

from regdash.output import sheets
from regdash.output.record import record_of
from regdash.output.wording import cohort_in_words, count
from regdash.summary.document import Block, Paragraph, Provenance, Section, Table, Warned
from regdash.summary.tables import shortened
from regdash.summary.unit_asker import UnitAsker

SINGLE = (
    "These are single joints of patients, by pseudonym. They are for who looks into the records, and are not given on; "
    "that they were written out stands in the audit trail."
)
REFUSED = (
    "Not listed: this office withholds counts under {least:,} from every answer, and a list shows joints one by one."
)
FIRST_OUT = 20  # rank of the column that a narrow page leaves out first


def section(asker: UnitAsker) -> Section:
    """List them in the order of their primaries."""
    return Section("joints", "Revised joints", (_list(asker),) if not _may(asker) else (Warned(SINGLE), _list(asker)))


def _may(asker: UnitAsker) -> bool:
    return not asker.desk.policy.withholds_counts


def _list(asker: UnitAsker) -> Block:
    if not _may(asker):
        return Paragraph(REFUSED.format(least=asker.desk.policy.withhold_counts_under))
    cohort = asker.own.having("ended=revised")
    report = asker.desk.joints(cohort, limit=None)
    own = asker.noted(report.head)
    of = f"{cohort_in_words(cohort)}: {count(report.total)} joints, followed to {asker.cut.through_date} at the latest."
    come_from = Provenance(report.head.measure, str(cohort), of, asker.command("joints", *cohort.words), own)
    columns = tuple(
        replace(column, rank=FIRST_OUT) if column.heading == "construct" else column
        for column in sheets.joints_columns(report)
        if column.heading not in ("class", "ended")  # they are the same in every row
    )
    title = f"{asker.unit.code}: revised joints"
    table = Table("revised-joints", title, columns, record_of(report), come_from)
    return shortened(table, asker.edition.rows_on_paper, "those with the earliest primaries")
