"""Where a unit's figures come from: the parts of its explanation that the edition asks for, whole."""

from dataclasses import replace

from regdash.output.explained_pages import ExplainedPart
from regdash.output.explained_sheets import SECTIONS
from regdash.output.record import record_of
from regdash.output.sheets import Withheld
from regdash.summary.document import Block, Bullets, Paragraph, Section, Table
from regdash.summary.sections.unit_curves import other_role
from regdash.summary.tables import ON_PAPER, shortened
from regdash.summary.unit_asker import UnitAsker, implant_of

NO_VERDICT = "What follows says what was found beside the figures. It shows no cause, and gives no verdict."
OF_IMPLANT = (
    "Implants and constructs are explained, and not sizes or lots: what follows is of {code}, all of it together."
)
FIRST = "the first"
MANY = {"subgroups": "of sizes and lots those with most joints", "nearby": "those of which any was found"}


def section(asker: UnitAsker) -> Section:
    """Explain it, a section a part."""
    explained = asker.explained
    own = asker.noted(explained.head)
    code = implant_of(asker.unit)
    blocks: list[Block] = [Paragraph(NO_VERDICT), *other_role(asker)]
    blocks += [] if asker.is_whole else [Paragraph(OF_IMPLANT.format(code=code))]
    parts = tuple(_part(asker, part, own if n == 0 else ()) for n, part in enumerate(asker.edition.explained))
    return Section("explanation", "Where the figures come from", tuple(blocks), parts)


def _part(asker: UnitAsker, part: str, own: tuple[str, ...]) -> Section:
    """Give one part; cautions with counts of the whole explanation stand under the first."""
    explained, chosen, notes = asker.explained, SECTIONS[part], Withheld()
    every = chosen.rows(explained)
    rows = chosen.shown(explained) if part in MANY else every
    columns = tuple(
        replace(column, heading=column.heading or "kind") for column in chosen.columns(rows, asker.level, notes)
    )
    arguments = asker.reviewed("implant", explained.code, *asker.within.words, "--section", part)
    come_from = replace(asker.provenance(explained.head, arguments), cautions=own)
    title = f"{explained.code}: {chosen.title[:1].lower()}{chosen.title[1:]}"
    table = Table(part, title, columns, record_of(ExplainedPart(explained, part)), come_from, tuple(notes.notes))
    if len(rows) < len(every):
        table = replace(table, remarks=(ON_PAPER.format(all=len(every), shown=len(rows), which=MANY[part]),))
    said = [row.finding for row in explained.falls] if part == "falls" else []
    blocks: list[Block] = [Bullets(tuple(said))] if said else []
    return Section(f"explained-{part}", chosen.title, (*blocks, shortened(table, asker.edition.rows_on_paper, FIRST)))
