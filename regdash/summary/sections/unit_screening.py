"""The figures of a screen on one unit: observed and expected, ratios, q, window by window."""

from dataclasses import replace

from regdash.output import sheets, signal_sheets
from regdash.output.record import record_of
from regdash.output.sheets import Withheld
from regdash.summary.document import Block, Bullets, Paragraph, Section, Table, Warned
from regdash.summary.sections.implants import SIGNAL, signal_sentence
from regdash.summary.unit_asker import UnitAsker

READING = (
    "Windows are years since implantation. Expected: at the rate of all others of the class and role. Ratio: hazard "
    "ratio, among joints alike in what the front names. p and q: of a ratio up to the stated one, q over everything "
    "that the screen tested. Shrunk: drawn towards what is usual, since what stands out most does so in part by chance."
)

CRUDE = "Ratio: of rates, with exact limits, not adjusted. All others: of the class, whatever they have in the role."
EXPECTED = (
    "What is expected is not one number: of the screen it is at the rate of all others of the class and role, of the "
    "rate below at that of all others of the class, and of the excess by reason at the hazard, day by day, of others "
    "that are alike."
)


def section(asker: UnitAsker) -> Section:
    """Tell what the screen found of it."""
    screen = asker.signals.screen
    said = [sentence for code in (asker.unit.code,) if asker.seen_in and (sentence := signal_sentence(screen, code))]
    blocks: list[Block] = [Warned(SIGNAL), *([Bullets(tuple(said))] if said else []), Paragraph(READING)]
    blocks += [Paragraph(EXPECTED)] if asker.is_whole else []
    blocks += [_table(asker), *([_rate(asker)] if asker.is_whole else [])]
    return Section("screening", "What the screen found", tuple(blocks))


def _table(asker: UnitAsker) -> Table:
    """Give the rows of the screen, one a window."""
    unit, screen = asker.unit, asker.signals.screen
    notes, rows = Withheld(), [row.screened for row in asker.rows]
    columns = signal_sheets.screen_columns(rows, unit.kind, asker.level, notes)
    come_from = asker.provenance(screen.head, asker.reviewed("screen", unit.kind, *asker.cohort_screened.words))
    kept = tuple(replace(column, rank=0) for column in columns if column.heading not in ("role", "class"))
    title = f"{unit.code}: figures of the screen of {unit.kind}"
    return Table("screening", title, kept, record_of(screen), come_from, tuple(notes.notes))


def _rate(asker: UnitAsker) -> Table:
    """Give the ratio of its rate to that of all others with exact limits."""
    report = asker.page
    notes = Withheld()
    columns = [c for c in sheets.implant_columns([report.row], asker.level, notes) if c.heading != "class"]
    come_from = asker.provenance(report.head, asker.page_command)
    title = f"{report.row.code}: its rate beside that of all others of the class"
    return Table("rate", title, tuple(columns), record_of(report), come_from, tuple(notes.notes), (CRUDE,))
