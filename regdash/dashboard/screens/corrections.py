"""The log of corrections of a data cut: who corrected what, when and why, and the way to the figures that it moved."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, ClassVar

from textual.binding import Binding
from textual.widget import Widget

from regdash.cohort import Cohort
from regdash.dashboard import wording
from regdash.dashboard.asked import Asked
from regdash.dashboard.place import Place
from regdash.dashboard.screens.reading import Reading
from regdash.dashboard.widgets.grid import Column, Grid, Row

if TYPE_CHECKING:
    from regdash.dashboard.questions import Questions
    from regdash.reports.corrected import Correction, CorrectionsReport

VALUE = 14  # columns that a value has in the list
MOST_FIELDS = 3  # that the line above the list names
COLUMNS = (
    Column("on", "on", left=True),
    Column("record", "record", left=True),
    Column("field", "field", left=True),
    Column("was", "was", left=True, width=VALUE),
    Column("is", "is", left=True, width=VALUE),
    Column("counted", "counted", left=True),
    Column("by", "by", left=True),
    Column("file", "file", left=True),
    Column("submission", "submission", left=True),
    Column("why", "why", left=True),
)


class CorrectionsScreen(Place):
    """Corrected fields, the newest first; each whole under Enter."""

    ENTER = "the whole correction"
    EXPORTS = "corrections"
    WITHOUT = ("view", "endpoint", "group", "horizon")
    BINDINGS: ClassVar = [Binding("d", "changes", "difference")]
    OWN_KEYS: ClassVar[dict[str, str]] = {
        "filter": "edit the filter; this list follows hospital= alone",
        "changes": "which figures moved since the data cut before, and how much of it corrections did",
    }
    answer: CorrectionsReport | None

    def __init__(self, cut: str, trail: tuple[str, ...]) -> None:
        super().__init__((), trail)
        self.cut = cut

    def body(self) -> Iterable[Widget]:
        """Lay out the list."""
        yield Grid(id="corrections", empty="nothing was corrected")

    def fetch(self, desk: Questions, asked: Asked) -> CorrectionsReport:
        """Ask for the log."""
        return desk.corrections(self.cut, _followed(asked))

    def says_how(self, asked: Asked) -> str:
        """Say which words of the filter the log cannot follow."""
        left_out = _left_out(asked)
        return f"{' '.join(left_out)} not followed here" if left_out else ""

    def head(self) -> None:
        """Corrections are of records of every kind, so there are no joints to count."""
        return None

    def counts_of(self) -> str:
        """Count fields and records, and name the fields that are corrected most."""
        if self.answer is None:
            return ""
        rows = self.answer.rows
        records = {(row.table, row.record_id) for row in rows}
        counted = {(row.table, row.record_id) for row in rows if row.is_counted}
        fields, of = wording.so_many(len(rows), "field"), wording.so_many(len(records), "record")
        said = f"{fields} of {of}, {len(counted):,} counted"
        most = ", ".join(f"{one.field} {one.corrections:,}" for one in self.answer.fields[:MOST_FIELDS])
        return f"{said} · most: {most}" if most else said

    def command(self) -> str:
        """The same list at the command line."""
        named = [c for c in _followed(self.asked or self.question).conditions if not c.negated and len(c.values) == 1]
        hospital = f" --hospital {named[0].values[0]}" if len(named) == 1 else ""
        return f"regdash corrections --cut {self.cut}{hospital}"

    # Paint

    def paint(self) -> None:
        """Show the list."""
        assert self.answer is not None
        self.query_one(Grid).show(COLUMNS, [_row(n, one) for n, one in enumerate(self.answer.rows)])

    def say(self, sentence: str = "") -> None:
        """Write what just happened, or who corrected the field under the cursor, and why."""
        row = self.query_one(Grid).current
        if not sentence and row is not None:
            one: Correction = row.value
            sentence = f"{one.hospital}, {one.submission}: {one.reason or 'the envelope says no reason'}"
        super().say(sentence)

    def on_grid_moved(self, message: Grid.Moved) -> None:
        """Say who corrected the field under the cursor, and why."""
        if not self.counting:
            self.say()

    def on_grid_opened(self, message: Grid.Opened) -> None:
        """Show a correction whole."""
        if message.row is not None:
            self.app.push_screen(Reading("correction", _whole(message.row.value)))

    # Act

    def action_changes(self) -> None:
        """Say which figures moved since the cut before."""
        from regdash.dashboard.screens.changes import ChangesScreen

        if self.answer is None or self.dashboard.desk is None:
            return
        if self.cut != self.dashboard.desk.manifest.cut:
            self.say("Which figures moved can be said once this cut is open: Escape to the cuts, and Enter.")
        elif self.answer.before is None:
            self.say("There is no data cut before this one, so no figure has moved yet.")
        else:
            trail = (*self.trail, f"{self.answer.before} to {self.cut}")
            self.app.push_screen(ChangesScreen(self.answer.before, trail))

    def explain_answer(self) -> None:
        """Explain the log."""
        from regdash.dashboard.explain import explained_rows

        if self.answer is not None and self.asked is not None:
            about = "what later submissions changed in records that were there"
            followed, left_out = _followed(self.asked), _left_out(self.asked)
            said = explained_rows(self.answer.head, about, followed, left_out, self.command())
            self.read_explained(said)


def _followed(asked: Asked) -> Cohort:
    return Cohort(tuple(c for c in asked.cohort.conditions if c.key == "hospital"))


def _left_out(asked: Asked) -> tuple[str, ...]:
    return tuple(str(c) for c in asked.cohort.conditions if c.key != "hospital")


def _row(n: int, one: Correction) -> Row:
    cells = (
        f"{one.corrected_on}",
        one.record_id,
        one.field,
        one.old_value or wording.NO_FIGURE,
        one.new_value or wording.NO_FIGURE,
        "yes" if one.is_counted else "no",
        one.hospital,
        one.table,
        one.submission,
        one.reason or wording.NO_FIGURE,
    )
    return Row(cells, one, ((one.corrected_on, -n), *cells[1:3], one.old_value, one.new_value, *cells[5:9], one.reason))


def _whole(one: Correction) -> list[tuple[str, str]]:
    line = f", line {one.line_no}" if one.line_no is not None else ""
    return [
        ("record", f"{one.record_id}, file {one.table}{line}"),
        ("field", one.field),
        ("was", one.old_value or "empty"),
        ("is", one.new_value or "empty"),
        ("corrected on", f"{one.corrected_on}, by {one.hospital} in submission {one.submission}"),
        ("why", one.reason or "the envelope says no reason"),
        (
            "counted",
            "the record counts in this data cut" if one.is_counted else "the record does not count in this cut",
        ),
    ]
