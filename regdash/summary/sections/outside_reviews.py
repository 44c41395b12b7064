"""How far the review of a unit is, for who is not of the office: states and days, and nobody's words."""

from regdash.output.table import Column
from regdash.store.signal_reviews import EVERY, MEANINGS
from regdash.summary.document import Block, Facts, Paragraph, Provenance, Section, Table
from regdash.summary.sections.unit_reviews import NOBODY
from regdash.summary.tables import plain_record
from regdash.summary.unit_asker import UnitAsker

NO_WORDS = "Who decided, and in which words, stays in the office."


def section(asker: UnitAsker) -> Section:
    """Tell the states of its review, oldest first."""
    life = asker.signals.screen.used.reviews.life(asker.unit)
    states = Facts(tuple(MEANINGS.items()))
    if not life:
        return Section("reviews", "Review", (Paragraph(NOBODY.format(day=asker.reviews.as_of)), states))
    names = ("day", "years", "state")
    rows = [(one.decided_at[:10], "every" if one.window == EVERY else one.window, one.state) for one in life]
    columns = tuple(Column(name, [row[n] for row in rows], left=True) for n, name in enumerate(names))
    of = f"Decisions on {asker.unit.code} by the end of {asker.reviews.as_of}, oldest first."
    record = plain_record("decisions", names, rows)
    table = Table("decisions", f"{asker.unit.code}: decisions", columns, record, Provenance("decisions", "", of))
    blocks: tuple[Block, ...] = (Paragraph(NO_WORDS), table, states)
    return Section("reviews", "Review", blocks)
