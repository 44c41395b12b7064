"""How many joints were replaced in the quarter, by kind and age, for everybody."""

from regdash.output.table import Column
from regdash.summary.asker import Asker
from regdash.summary.disclosure import why_hidden
from regdash.summary.document import Paragraph, Provenance, Section, Table
from regdash.summary.plain import CLASSES, JOINTS, MONTHS
from regdash.summary.public_counts import ALL, QuarterCounts, quarter_counts
from regdash.summary.sections.names import PLURALS, slug
from regdash.summary.tables import plain_record

LEFT_OUT = "left out"


def section(asker: Asker) -> Section:
    """Count, joint by joint."""
    parts = [_part(asker, counts) for counts in quarter_counts(asker)]
    empty = () if parts else (Paragraph("No joint was replaced in these months."),)
    return Section("public-operations", "How many joints were replaced", empty, tuple(parts))


def _part(asker: Asker, counts: QuarterCounts) -> Section:
    when, name = f"{MONTHS[asker.quarter.number]} {asker.quarter.year}", slug("operations", counts.joint)
    for (row, column), reason in sorted(counts.withheld.why.items()):
        asker.keep(name, counts.classes[row], counts.ages[column], int(counts.table[row, column]), reason)
    total = counts.shown[-1][-1]
    joints = PLURALS[counts.joint].lower()
    told = f"{total:,} {joints} were replaced in {when}." if total is not None else f"In {when} {joints} were replaced."
    said = Paragraph(told)
    shown = [[LEFT_OUT if cell is None else f"{cell:,}" for cell in row] for row in counts.shown]
    columns = [Column("kind", [CLASSES.get(kind, kind) for kind in counts.classes], left=True)]
    columns += [
        Column("all ages" if age == ALL else f"age {age}", [row[place] for row in shown])
        for place, age in enumerate(counts.ages)
    ]
    why = why_hidden(asker.others)
    rows = [
        (kind, age, number, why if number is None else None)
        for kind, row in zip(counts.classes, counts.shown)
        for age, number in zip(counts.ages, row)
    ]
    record = plain_record("operations of the quarter", ("class", "age", "joints", "withheld"), rows)
    of = f"First {JOINTS[counts.joint]} replacements of these months that were known on {asker.cut.known_as_of}."
    title = f"{PLURALS[counts.joint]} that were replaced, by kind and age"
    remark = ("Left out: a small number, or one that would tell a small number.",)
    table = Table(name, title, tuple(columns), record, Provenance("operations", "", of), (), remark)
    return Section(f"public-{name}", PLURALS[counts.joint], (said, table))
