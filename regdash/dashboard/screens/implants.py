"""The screen of implants, constructs, sizes or lots: what is a signal, whether it was one before, and its review."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import TYPE_CHECKING, ClassVar

from textual.binding import Binding
from textual.widget import Widget

from regdash.dashboard import wording
from regdash.dashboard.asked import Asked
from regdash.dashboard.deciding import DecidingOnSignals
from regdash.dashboard.jumping import Jumping
from regdash.dashboard.row_words import RowFilter
from regdash.dashboard.screens.row_prompts import RowsPrompt
from regdash.dashboard.signal_list import (
    Histories,
    columns_of,
    histories_of,
    row_sentence,
    seen_line,
    signal_row,
    tested_line,
    values_of,
    words_of,
)
from regdash.dashboard.widgets.grid import Grid, Row
from regdash.dashboard.widgets.line import Line

if TYPE_CHECKING:
    from regdash.dashboard.questions import Questions
    from regdash.signals.history_model import HistoryReport
    from regdash.signals.model import SignalRow, SignalsReport

KINDS = ("implants", "constructs", "sizes", "lots")  # as the screen has them, which is loaded when it is asked for
CAUTION = "A signal starts a review and shows no cause."


class ImplantsScreen(DecidingOnSignals, Jumping):
    """Which implants are revised more often than a stated ratio allows: a reason to look, no verdict."""

    ENTER = "its page"
    WITHOUT = ("view", "endpoint", "group", "horizon")
    BINDINGS: ClassVar = [
        Binding("s", "decide", "review"),
        Binding("k", "kind", "kind"),
        Binding("f", "rows", "rows"),
        Binding("h", "quarters", "history"),
    ]
    OWN_KEYS: ClassVar[dict[str, str]] = {
        "decide": "move the review of the row on, with a reason; shows what was decided so far",
        "kind": "implants, constructs, sizes or lots",
        "rows": "find rows by any column, as in ratio>2 q<0.05 state=new",
        "quarters": "the screen of every past quarter, with what was known then",
        "jump": Jumping.JUMP,
    }
    answer: SignalsReport | None

    def __init__(self, within: tuple[str, ...] = (), trail: tuple[str, ...] = ()) -> None:
        super().__init__(within, trail)
        self.kind = KINDS[0]
        self.chosen = RowFilter()
        self.histories: Histories | None = None  # of the rows that are listed, where a replay is remembered
        self._histories_of: tuple[str, Asked | None] = ("", None)
        self._replayed = False  # the quarters before were looked at, and may be remembered by now

    def body(self) -> Iterable[Widget]:
        """Lay out how many signals may be false, what a signal is, and the list."""
        yield Line(id="tested")
        yield Line(id="title")
        yield Grid(id="implants", empty="no rows: f finds other rows, / other joints")

    # Ask

    def fetch(self, desk: Questions, asked: Asked) -> SignalsReport:
        """Screen this data cut."""
        return desk.signals(self.kind, asked.cohort, compared=False)

    def fetch_more(self, desk: Questions, asked: Asked) -> tuple[SignalsReport, HistoryReport | None]:
        """Screen the cut before, and say what moved; and look whether the quarters before were screened once."""
        return desk.signals(self.kind, asked.cohort), desk.remembered_history(self.kind, asked.cohort)

    def says_how(self, asked: Asked) -> str:
        """Say what is listed, and which rows of it."""
        if not self.chosen.conditions or self.answer is None:
            return self.kind
        shown, of = len(self.query_one(Grid).rows), len(self.answer.rows)
        return f"{self.kind} · {self.chosen}: {shown:,} of {wording.so_many(of, 'row')}"

    def command(self) -> str:
        """The same question at the command line."""
        asked = (self.asked or self.question).cohort
        return f"regdash signals list {wording.words_for_shell(asked.words)} --kind {self.kind}".replace("  ", " ")

    def withheld(self) -> list[str]:
        """Name the rows whose figures are withheld."""
        rows = [row for row in self.answer.rows if row.screened.withheld] if self.answer else []
        return [f"{row.unit.code} {row.screened.window}: {row.screened.withheld}" for row in rows]

    def also(self) -> list[tuple[str, str]]:
        """Tell of the row under the cursor what its line has no room for."""
        if self.row is None:
            return []
        sentence, words = row_sentence(self.row, self.histories), (self.asked or self.question).cohort.words
        evidence = ("evidence", wording.evidence_for(self.row.unit.code, words))
        return [*([("this row", sentence)] if sentence else []), evidence]

    # Paint

    def paint(self) -> None:
        """Show the list."""
        report = self.answer
        assert report is not None
        if self._histories_of != (report.kind, self.asked):
            self.histories = None
        self.query_one("#tested", Line).say(f" {tested_line(report.screen)}")
        self.query_one("#title", Line).say(f" {CAUTION}", f"{seen_line(report)} ")
        rows = [signal_row(row, self.histories) for row in self._kept(report)]
        self.query_one(Grid).show(columns_of(report.kind, self.histories), rows)
        self.say_where()

    def _kept(self, report: SignalsReport) -> tuple[SignalRow, ...]:
        """The rows that were found by their columns."""
        return tuple(row for row in report.rows if self.chosen.keeps(values_of(row, self.histories)))

    def figures(self, desk: Questions) -> SignalsReport | None:
        """What was found, and no other rows, so that they are those of the screen."""
        return self.answer and replace(self.answer, rows=self._kept(self.answer))

    def paint_more(self, answer: tuple[SignalsReport, HistoryReport | None]) -> None:
        """Show what is first seen, seen again and not seen, and the quarters before."""
        self.answer, history = answer
        self.histories, self._histories_of = histories_of(history), (self.answer.kind, self.asked)
        self.paint()
        self.say()

    @property
    def row(self) -> SignalRow | None:
        """What the cursor stands on."""
        current = self.query_one(Grid).current
        if current is None or self.answer is None:
            return None
        return next((one for one in self.answer.rows if (one.unit, one.screened.window) == current.value), None)

    def say(self, sentence: str = "") -> None:
        """Write what just happened, or else what the row under the cursor has no room for."""
        row = self.row
        super().say(sentence or self.became or (row_sentence(row, self.histories) if row else ""))

    def on_grid_moved(self, message: Grid.Moved) -> None:
        """Say why the row under the cursor is seen as it is."""
        self.became = ""
        if not self.counting:
            self.say()

    # Find

    def action_kind(self) -> None:
        """List the next kind."""
        self.kind = KINDS[(KINDS.index(self.kind) + 1) % len(KINDS)]
        self.ask()

    async def action_rows(self) -> None:
        """Choose rows by their columns."""
        if not self.is_there():
            return
        assert self.answer is not None

        def done(chosen: RowFilter | None) -> None:
            if chosen is not None:
                self.chosen, self.became = chosen, ""
                self.paint()
                self.say()  # another row may be where the cursor stood

        values = [values_of(row, self.histories) for row in self.answer.rows]
        await self.app.push_screen(RowsPrompt(self.chosen, words_of(self.histories), values), done)

    def code_of(self, row: Row) -> str:
        """Name a row: an implant has one for each window."""
        code: str = row.value[0].code
        return code

    def on_grid_opened(self, message: Grid.Opened) -> None:
        """Open the page of an implant, also from its sizes and lots."""
        from regdash.dashboard.screens.implant import ImplantScreen

        row = self.row
        if row is None:
            return
        code = row.unit.code if row.unit.kind == KINDS[1] else row.unit.code.split(" ")[0]
        page = ImplantScreen(code, self.within, (*self.trail, code))

        def closed(_: object) -> None:
            if page.has_decided:
                self.ask()

        self.app.push_screen(page, closed)

    def action_quarters(self) -> None:
        """Replay the screen quarter by quarter."""
        from regdash.dashboard.screens.history import HistoryScreen

        self._replayed = True
        self.app.push_screen(HistoryScreen(self.kind, self.within, (*self.trail, "history")))

    def on_screen_resume(self) -> None:
        """Look again for the quarters before, where they were replayed meanwhile."""
        if self._replayed and self.histories is None and not self.counting:
            self._replayed = False
            self.ask()

    # Decide

    async def action_decide(self) -> None:
        """Move the review of the row on."""
        row, report = self.row, self.answer
        if row is not None and report is not None and self.asked is not None:
            await self.decide_on(row, report, self.asked.cohort)
        elif not self.counting:
            self.say("There is no row to decide on.")
