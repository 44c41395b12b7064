"""What everybody's edition withholds, and why: for the office alone."""

from regdash.output.sheets import once
from regdash.output.table import Column
from regdash.output.wording import count
from regdash.summary.asker import Asker
from regdash.summary.document import Paragraph, Provenance, Section, Table
from regdash.summary.public_counts import quarter_counts
from regdash.summary.tables import plain_record

NEVER_OUT = (
    "For the office alone: this list has the counts that everybody's edition of the quarter withholds, by the settings "
    "of this edition's file, which are those of public.toml. It stands in no recipient's folder."
)


def section(asker: Asker) -> Section:
    """List what is withheld."""
    rows = [
        (
            counts.joint,
            counts.classes[row],
            counts.ages[column],
            int(counts.table[row, column]),
            why,
        )
        for counts in quarter_counts(asker)
        for (row, column), why in sorted(counts.withheld.why.items())
    ]
    names = ("joint", "class", "age", "joints", "why")
    columns = (
        Column("joint", once([row[0] for row in rows]), left=True),
        Column("class", [row[1] for row in rows], left=True),
        Column("age", [row[2] for row in rows], left=True),
        Column("joints", [count(row[3]) for row in rows]),
        Column("why", [row[4] for row in rows], left=True),
    )
    edition = asker.edition
    of = (
        f"Primaries of {asker.quarter}. Counts of 1 to {edition.withhold_counts_under - 1} are withheld; what is "
        f"withheld can be any number of an interval at least {edition.protection_width} wide."
    )
    record = plain_record("what is withheld", names, rows)
    table = Table(
        "withheld-counts", "What everybody's edition withholds", columns, record, Provenance("withheld", "", of)
    )
    return Section("withheld", "Withheld from everybody", (Paragraph(NEVER_OUT), table))
