"""A hospital's own records: how complete they are, and what is missing in them."""

from dataclasses import replace

from regdash.cohort import Cohort
from regdash.output.wording import count
from regdash.summary.asker import Asker
from regdash.summary.document import Block, Facts, Paragraph, Section, Table
from regdash.summary.sections.intake import SENT, completeness_table, missing_table
from regdash.summary.sections.own_activity import own_words


def section(asker: Asker) -> Section:
    """Say of one hospital what it sent, and what its records lack."""
    words = f"{own_words(asker)} implanted={asker.quarter.year}"
    cohort = asker.cohort(words, "own-records")
    complete = asker.desk.completeness(cohort, ("joint",))
    missing = asker.desk.missing(cohort, ("joint",))
    title = f"Own operations of {asker.quarter.year} in the cut, over those that the hospital counts"
    blocks: list[Block] = [
        *_sent(asker),
        _own(completeness_table(asker, "own-completeness", title, complete, words)),
        _own(missing_table(asker, missing, words)),
    ]
    return Section("own-records", "Own records", tuple(blocks))


def _own(table: Table) -> Table:
    """Take away what is said with counts of the whole register."""
    return replace(table, provenance=replace(table.provenance, cautions=()))


def _sent(asker: Asker) -> list[Block]:
    rows = asker.desk.received(Cohort()).rows
    own = [row for row in rows if row.sender == asker.recipient.code and row.kind == "operations"]
    if not own:
        return [Paragraph("No submission of operations by this hospital is in this data cut.")]
    facts = [(name.replace("_", " "), count(sum(getattr(row, name) for row in own))) for name in SENT]
    return [Facts((*facts, ("last received", max(row.last_received for row in own))))]
