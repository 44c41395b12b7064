"""The screen of every past quarter, replayed: units by quarters, and the one under the cursor in full, with words."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, ClassVar

from textual.binding import Binding
from textual.message import Message
from textual.widget import Widget
from textual.widgets import Static

from regdash.dashboard import wording
from regdash.dashboard.asked import Asked
from regdash.dashboard.place import Place
from regdash.dashboard.widgets.grid import Column, Grid, Row
from regdash.dashboard.widgets.line import Line

if TYPE_CHECKING:
    from regdash.dashboard.questions import Questions
    from regdash.signals.history_model import HistoryReport, HistoryRow

KINDS = ("implants", "constructs", "sizes", "lots")
OTHER_COLUMNS = 46  # columns of the list that the strip leaves to the rest
LEAST = 8  # quarters of a strip
NOTHING = "–"


class HistoryScreen(Place):
    """When each unit was first a signal, and whether it was seen again: a reason to look, no verdict."""

    ENTER = "its page"
    WITHOUT = ("view", "endpoint", "group", "horizon")
    BINDINGS: ClassVar = [Binding("k", "kind", "kind")]
    OWN_KEYS: ClassVar[dict[str, str]] = {"kind": "implants, constructs, sizes or lots"}
    DEFAULT_CSS = """
    HistoryScreen #quarters { height: 1fr; }
    HistoryScreen #strip { height: 8; padding: 0 1; }
    """
    answer: HistoryReport | None

    class Replaying(Message):
        """So many quarters are done."""

        def __init__(self, generation: int, done: int, of: int) -> None:
            super().__init__()
            self.generation, self.done, self.of = generation, done, of

    def __init__(
        self, kind: str, within: tuple[str, ...] = (), trail: tuple[str, ...] = (), code: str | None = None
    ) -> None:
        super().__init__(within, trail)
        self.kind = kind
        self.code = code  # where the cursor stands at first

    def body(self) -> Iterable[Widget]:
        """Lay out what is spanned, the list, and the quarters of the row under the cursor."""
        yield Line(id="spanned")
        yield Grid(id="quarters", empty="nothing was ever tested")
        yield Static(id="strip", markup=False)

    # Ask

    def fetch(self, desk: Questions, asked: Asked) -> HistoryReport:
        """Replay, or read what is remembered."""
        generation = self.generation

        def progress(done: int, of: int) -> None:
            self.post_message(self.Replaying(generation, done, of))

        return desk.history(self.kind, asked.cohort, progress=progress)

    def on_history_screen_replaying(self, message: Replaying) -> None:
        """Say how far the replay is."""
        if self.counting and message.generation == self.generation:
            self.say(f"replaying quarter {message.done:,} of {message.of:,} · Ctrl+X cancels")

    def says_how(self, asked: Asked) -> str:
        """Say what is listed."""
        return f"{self.kind}, quarter by quarter"

    def command(self) -> str:
        """The same question at the command line."""
        asked = (self.asked or self.question).cohort
        return f"regdash signals history {wording.words_for_shell(asked.words)} --kind {self.kind}".replace("  ", " ")

    # Paint

    def paint(self) -> None:
        """Show a row a unit."""
        report = self.answer
        assert report is not None
        spanned = f"{report.quarters[0]} to {report.quarters[-1]}" if report.quarters else "no quarter to replay"
        seen = sum(row.first_seen is not None for row in report.rows)
        what = f"{seen:,} of {len(report.rows):,} {report.kind} were a signal"
        self.query_one("#spanned", Line).say(f" {spanned} · {what}", "newest right ")
        columns = (
            Column(report.kind.removesuffix("s"), "code", left=True),
            Column("role", "role", left=True),
            Column("first seen", "first_seen", left=True),
            Column("years", "years"),
            Column("now", "now", left=True),
            Column("quarters", "quarters", left=True),
            Column("class", "class", left=True),
            Column("revised then", "revisions"),
            Column("of joints", "joints"),
        )
        grid = self.query_one(Grid)
        grid.show(columns, [_row(n, row, self._strip_width) for n, row in enumerate(report.rows)])
        if self.code is not None:
            found = (n for n, row in enumerate(grid.listed) if report.rows[row.value].code == self.code)
            grid.cursor, self.code = next(found, 0), None
        self._paint_strip()

    @property
    def _strip_width(self) -> int:
        return max(LEAST, self.size.width - OTHER_COLUMNS)

    @property
    def row(self) -> HistoryRow | None:
        """What the cursor stands on."""
        current = self.query_one(Grid).current
        return self.answer.rows[current.value] if self.answer is not None and current is not None else None

    def _paint_strip(self) -> None:
        from regdash.charts.history import unit_strip

        row, report = self.row, self.answer
        said = unit_strip(report, row, max(self.size.width - 2, LEAST)) if row and report else ""
        self.query_one("#strip", Static).update(said)

    def on_grid_moved(self, message: Grid.Moved) -> None:
        """Show the quarters of another row."""
        self._paint_strip()

    def on_resize(self) -> None:
        """Let the strips take the room there is."""
        if self.answer is not None:
            self.paint()

    # Act

    def action_kind(self) -> None:
        """List the next kind."""
        self.kind = KINDS[(KINDS.index(self.kind) + 1) % len(KINDS)]
        self.ask()

    def on_grid_opened(self, message: Grid.Opened) -> None:
        """Open the page of an implant, also from its sizes and lots."""
        from regdash.dashboard.screens.implant import ImplantScreen

        row = self.row
        if row is None or self.answer is None:
            return
        code = row.code if self.answer.kind == KINDS[1] else row.code.split(" ")[0]
        self.app.push_screen(ImplantScreen(code, self.within, (*self.trail, code)))


def _row(number: int, row: HistoryRow, width: int) -> Row:
    from regdash.charts.history import strip

    years = NOTHING if row.years_to_first_seen is None else f"{row.years_to_first_seen:.1f}"
    seen = row.first_seen or NOTHING
    counts = ("withheld",) * 2 if row.withheld else (wording.count(row.revisions), wording.count(row.joints))
    cells = (row.code, row.role, seen, years, row.now, strip(row.states, width), row.joint_class, *counts)
    quarters = -row.quarters_seen
    keys = (row.code, row.role, row.first_seen, row.years_to_first_seen, row.now, quarters, row.joint_class)
    return Row(cells, number, (*keys, row.revisions, row.joints))
