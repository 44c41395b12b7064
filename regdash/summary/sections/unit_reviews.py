"""What moved since the data cut before, and every decision on one unit: states, reasons, days; people by numbers."""

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from regdash.output.decisions import decisions_of
from regdash.output.record import Record, record_of
from regdash.output.sheets import Withheld
from regdash.output.signals_pages import signal_columns
from regdash.output.table import Column
from regdash.output.wording import count, number, p_value, with_limits
from regdash.signals.model import SignalReview
from regdash.store.signal_reviews import EVERY, MEANINGS
from regdash.summary.document import Block, Bullets, Facts, Paragraph, Provenance, Section, Table
from regdash.summary.sections.implants import NOT_COMPARED
from regdash.summary.unit_asker import UnitAsker

NOBODY = "Nobody has decided anything on it by {day}."
WHO = (
    "People are numbers here, in the order of their first decisions; who they are is told in the office: "
    "regdash signals show {code}"
)
ACCOUNT, DECIDED_BY = "account", "decided_by"


def section(asker: UnitAsker) -> Section:
    """Tell the trail of its review."""
    report = asker.signals
    life = report.screen.used.reviews.life(asker.unit)
    people = Numbers(life)
    moved = [
        f"{row.screened.window}: {row.seen}, {row.moved.cause}. {row.moved.sentence}" for row in asker.rows if row.moved
    ]
    against = f"Compared with data cut {report.earlier}." if report.earlier else NOT_COMPARED
    blocks: list[Block] = [Paragraph(against), *([Bullets(tuple(moved))] if moved else []), _signals(asker, people)]
    blocks += _decided(asker, life, people)
    return Section("reviews", "Review, and what moved", tuple(blocks))


class Numbers:
    """People as numbers, in the order of their first decisions."""

    def __init__(self, life: Sequence[SignalReview]) -> None:
        self._number = {who: n + 1 for n, who in enumerate(dict.fromkeys(one.decided_by for one in life))}

    def of(self, who: str | None) -> str | None:
        """Name somebody by number; None is nobody."""
        return None if who is None else f"person {self._number[who]}"

    def record(self, record: Record) -> Record:
        """Write people as numbers, and leave out what they are called by the machine."""
        columns = tuple(name for name in record.columns if name != ACCOUNT)
        rows = [{name: value for name, value in row.items() if name != ACCOUNT} for row in record.rows]
        return replace(record, columns=columns, rows=[{**row, DECIDED_BY: self.of(row[DECIDED_BY])} for row in rows])


def _signals(asker: UnitAsker, people: Numbers) -> Table:
    """Say window by window how far it is and whether it was seen before."""
    report, unit = asker.signals, asker.unit
    notes = Withheld()
    dropped = ("by", "role", "class")
    columns = [c for c in signal_columns(asker.rows, unit.kind, asker.level, notes) if c.heading not in dropped]
    arguments = ["signals", "list", *asker.cohort_screened.words, "--kind", unit.kind]
    arguments += ["--since", report.earlier] if report.earlier else []
    come_from = asker.provenance(report.head, asker.reviewed(*arguments))
    said = tuple(one for one in come_from.cautions if one not in report.screen.head.cautions)  # those are under it
    come_from = replace(come_from, cautions=said)
    if report.earlier is None and any(cut.through_date < asker.cut.through_date for cut in asker.desk.cuts()):
        come_from = replace(come_from, command=())  # the command would compare with a cut that this pack does not
    record = people.record(record_of(report))
    title = f"{unit.code}: signals, reviews, and whether they were seen before"
    return Table("signals", title, tuple(columns), record, come_from, tuple(notes.notes))


def _decided(asker: UnitAsker, life: Sequence[SignalReview], people: Numbers) -> list[Block]:
    """List every decision, oldest first, with the figures that it rests on."""
    states = Facts(tuple(MEANINGS.items()))
    if not life:
        return [Paragraph(NOBODY.format(day=asker.reviews.as_of)), states]
    record = people.record(record_of(decisions_of(life, asker.desk.policy)))
    rows: list[dict[str, Any]] = record.rows
    ratios = with_limits([(row["hazard_ratio"], row["lower"], row["upper"]) for row in rows], 2)
    columns = (
        Column("number", [str(row["number"]) for row in rows]),
        Column("day", [row["decided_at"][:10] for row in rows], left=True),
        Column("years", ["every" if row["window"] == EVERY else row["window"] for row in rows], left=True),
        Column("state", [row["state"] for row in rows], left=True),
        Column("by", [row[DECIDED_BY] for row in rows], left=True),
        Column("because", [row["why"] for row in rows], left=True, least=30),
        Column("data cut", [row["cut"] for row in rows], left=True, rank=2),
        Column("revised", [count(row["revisions"]) for row in rows], rank=3),
        Column("expected", [number(row["expected"], 1) for row in rows], rank=4),
        Column("ratio", ratios, left=True, rank=1),
        Column("q", [p_value(row["q"]) for row in rows], rank=5),
    )
    of = f"Decisions on {asker.unit} by the end of {asker.reviews.as_of}, oldest first, and what each rested on."
    command = ("signals", "show", asker.unit.code, "--kind", asker.unit.kind)
    table = Table(
        "decisions", f"{asker.unit.code}: decisions", columns, record, Provenance("decisions", "", of, command)
    )
    return [Paragraph(WHO.format(code=asker.unit.code)), table, states]
