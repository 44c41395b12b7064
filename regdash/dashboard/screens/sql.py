"""The room for SQL: what may be asked, one statement at a time, and its rows as they are."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, time
from decimal import Decimal
from typing import TYPE_CHECKING, Any, ClassVar

from rich.text import Text
from textual.binding import Binding
from textual.containers import Horizontal
from textual.widget import Widget
from textual.widgets import Static

from regdash.dashboard import wording
from regdash.dashboard.asked import Asked
from regdash.dashboard.place import WIDE, Place
from regdash.dashboard.screens.reading import Reading
from regdash.dashboard.screens.statement_prompt import StatementPrompt
from regdash.dashboard.widgets.grid import Column, Grid, Row, room_beside
from regdash.dashboard.widgets.pane import Pane
from regdash.output.listing import Listing
from regdash.output.table import safe

if TYPE_CHECKING:
    from regdash.dashboard.questions import Questions
    from regdash.reports.statements import Relation, StatementReport

ROWS, VIEWS = "rows", "views"
AS_THEY_ARE = "Rows are as they are: no policy withholds any. Joints stay in the office."
LINES = 4  # of the statement that stand above its rows
SHORTEST_ABOUT = 20
WIDEST = 48  # columns that one value may take in the list
ORDERED = (bool, int, float, Decimal, str, date, datetime, time)
EXPLAINED = (
    ("what it is", "rows of the data cut by one statement in SQL, as they are: no policy withholds any of them"),
    ("may be asked", "one SELECT, or WITH, FROM, VALUES, DESCRIBE, SUMMARIZE, on the views and tables of the cut"),
    ("may not", "whatever writes, reads files, reaches a network, or changes a setting; parameters; two statements"),
    ("ends", "reading stops after 1,000 rows, and a statement is ended after 30 seconds or where it needs more than "
             "1 GB of memory; regdash sql --rows and --seconds allow more"),
    ("caution", "Rows of single joints stay in the office. A count of yours has no limits, no cautions and no policy: "
                "what is published comes from the other places."),
    ("", "follow_up and the views give the same numbers as the program; whether a filter chooses by the outcome "
                "is for you to see."),
)  # fmt: skip


@dataclass(frozen=True)
class Room:
    """What may be asked, and the rows of the last statement."""

    relations: tuple[Relation, ...]
    report: StatementReport | None


class SqlScreen(Place):
    """One statement, its rows, and the views with their documentation."""

    ENTER = "in full"
    EXPORTS = "sql"
    WITHOUT = ("view", "endpoint", "group", "horizon", "filter")
    BINDINGS: ClassVar = [
        Binding("slash", "statement", "statement"),
        Binding("tab", "pane_step", "views, rows"),
        Binding("shift+tab", "pane_step", show=False),
    ]
    OWN_KEYS: ClassVar = {
        "statement": "write or change the statement; Tab completes views, columns and words of SQL",
        "pane_step": "go to the views with their documentation, or to the rows",
    }
    DEFAULT_CSS = """
    SqlScreen #statement { height: auto; padding: 0 1; }
    SqlScreen #refusal { height: auto; max-height: 5; padding: 0 1; text-style: italic; display: none; }
    SqlScreen #lists { height: 1fr; }
    SqlScreen.wide #views { width: 2fr; padding-left: 2; }
    SqlScreen.wide #rows { width: 3fr; }
    """
    answer: Room | None

    def __init__(self) -> None:
        super().__init__()
        self.statement = ""
        self.pane = VIEWS
        self._draft = ""  # a statement that was left unasked
        self._before: list[str] = []  # statements to go back to
        self._after: list[str] = []  # and those that were left by going back

    def body(self) -> Iterable[Widget]:
        """Lay out the statement, its rows and the views."""
        yield Static(id="statement", markup=False)
        yield Static(id="refusal", markup=False)
        with Horizontal(id="lists"):
            yield Pane(id=ROWS, empty="no rows")
            yield Pane(id=VIEWS, empty="nothing to ask")

    def on_mount(self) -> None:
        """Show what may be asked."""
        self._say_statement()
        self._arrange()

    # Ask

    @property
    def question(self) -> Asked:
        """A statement stands by itself, whatever the filter says."""
        return Asked()

    def fetch(self, desk: Questions, asked: Asked) -> Room:
        """Ask what may be asked, and the statement where there is one."""
        relations = desk.relations()
        return Room(relations, desk.statement(self.statement) if self.statement else None)

    def says_how(self, asked: Asked) -> str:
        """Nothing is grouped here."""
        return "one SELECT at a time, read-only"

    def counts_of(self) -> str:
        """How many rows came, whether there were more, and how long it took."""
        report = self.answer.report if self.answer else None
        if report is None:
            return f"{len(self.answer.relations)} views and tables" if self.answer else ""
        rows = f"the first {len(report.rows):,} rows, and there are more" if report.more else _rows(len(report.rows))
        return f"{rows} · {report.seconds:.2f} s"

    def figures(self, desk: Questions) -> Listing | None:
        """The rows as they came."""
        report = self.answer.report if self.answer else None
        return Listing("sql", report.columns, report.rows) if report and self.pane == ROWS else None

    @property
    def exported(self) -> str:
        """Rows are exports, the names of views are not."""
        return self.EXPORTS if self.pane == ROWS else ""

    def export_facts(self) -> dict[str, str]:
        """The statement."""
        return {"statement": self.statement}

    def head(self) -> None:
        """Rows are of whatever was asked, so there are no joints to count."""
        return None

    def command(self) -> str:
        """The same question at the command line."""
        no_option = "-- " if self.statement.startswith("-") else ""  # a remark comes first
        said = wording.words_for_shell([self.statement]) if self.statement else "STATEMENT"
        return f"regdash sql {no_option}{said}"

    def _cancelled(self) -> None:
        """Say that nothing came."""
        self.refused = self.stopped
        self.say_counts()
        if self.stopped:
            self.say("Cancelled. r asks again, / changes the statement.")
        else:
            self.wanted = None

    def say(self, sentence: str = "") -> None:
        """Write one sentence; why a statement was refused stands in full under it."""
        refusal = self.query_one("#refusal", Static)
        refusal.display = self.refused and bool(sentence)
        refusal.update(sentence)
        super().say("" if refusal.display else sentence or AS_THEY_ARE)

    # Paint

    def paint(self) -> None:
        """Show the rows, and the views with what a row of each is."""
        assert self.answer is not None
        report = self.answer.report
        rows = self.query_one(f"#{ROWS}", Pane)
        rows.title(self._titled(ROWS))
        if report is not None:
            rows.grid.order = None
            rows.grid.show(*_table(report))
        views = self.query_one(f"#{VIEWS}", Pane)
        views.title(self._titled(VIEWS))
        self._paint_views(self.answer.relations)
        if report is not None and self.pane == VIEWS and self._asked_now:
            self.pane = ROWS
            self._arrange()
        self._asked_now = False

    def _paint_views(self, relations: tuple[Relation, ...]) -> None:
        grid = self.query_one(f"#{VIEWS}", Pane).grid
        columns = (Column("name", "name", left=True), Column("kind", "kind", left=True))
        cells = [(relation.name, relation.kind) for relation in relations]
        width = max(SHORTEST_ABOUT, room_beside(self._views_width, columns, cells))
        rows = [Row((*own, each.about), each, (*own, None)) for own, each in zip(cells, relations, strict=True)]
        grid.show((*columns, Column("what a row is", left=True, width=width)), rows)

    @property
    def _views_width(self) -> int:
        return self.size.width * 2 // 5 - 2 if self.has_class("wide") else self.size.width

    _asked_now = False  # the statement has just been written, so its rows come to the front

    def _titled(self, name: str) -> Text:
        names = (name,) if self.has_class("wide") else (ROWS, VIEWS)
        return Text(" " + "  ".join(each.upper() if each == name else each for each in names), style="bold")

    def _say_statement(self) -> None:
        lines = self.statement.splitlines() or ["/ writes a statement; Enter on a view shows its columns."]
        shown = (
            lines[:LINES] if len(lines) <= LINES else [*lines[: LINES - 1], f"… {len(lines) - LINES + 1} more lines"]
        )
        text = Text("\n".join(map(safe, shown)), style="bold" if self.statement else "", overflow="ellipsis")
        text.no_wrap = True
        self.query_one("#statement", Static).update(text)

    def _arrange(self) -> None:
        wide = self.size.width >= WIDE
        self.set_class(wide, "wide")
        for name in (ROWS, VIEWS):
            pane = self.query_one(f"#{name}", Pane)
            pane.display = wide or name == self.pane
            pane.title(self._titled(name))
        self.query_one(f"#{self.pane}", Pane).grid.focus()

    # Act

    def on_resize(self) -> None:
        """Put the views beside the rows where there is room."""
        self._arrange()
        if self.answer is not None:
            self._paint_views(self.answer.relations)

    def action_pane_step(self) -> None:
        """Go to the other list."""
        self.pane = VIEWS if self.pane == ROWS else ROWS
        self._arrange()

    async def action_statement(self) -> None:
        """Write or change the statement."""
        if self.answer is None:
            return

        prompt = StatementPrompt(self._draft or self.statement, self.answer.relations)

        def done(statement: str | None) -> None:
            self._draft = prompt.left
            if statement is not None:
                if self.statement and statement != self.statement:
                    self._before.append(self.statement)
                self._after.clear()
                self._ask(statement)

        await self.app.push_screen(prompt, done)

    def _ask(self, statement: str) -> None:
        self.statement, self._asked_now = statement, True
        self._say_statement()
        self.ask()

    def action_undo(self) -> None:
        """Go back to the statement before."""
        self._step(self._before, self._after, "There is no earlier statement.")

    def action_redo(self) -> None:
        """Go forth to the statement that was undone."""
        self._step(self._after, self._before, "There is no later statement.")

    def _step(self, source: list[str], target: list[str], otherwise: str) -> None:
        if not source:
            self.say(otherwise)
            return
        target.append(self.statement)
        self._ask(source.pop())

    def on_grid_opened(self, message: Grid.Opened) -> None:
        """Read a row in full, or the columns of a view."""
        if message.row is None or self.answer is None:
            return
        if str(message.grid.id).startswith(VIEWS):
            relation: Relation = message.row.value
            told = [(column.name, f"{column.type}: {column.about}".rstrip(": ")) for column in relation.columns]
            self.app.push_screen(Reading(f"{relation.kind} {relation.name}", [("", relation.about), *told]))
        elif self.answer.report is not None:
            values = zip(self.answer.report.columns, self.answer.report.rows[message.row.value], strict=True)
            number = f"row {message.row.value + 1:,}"
            self.app.push_screen(Reading(number, [(safe(name), safe(_shown(value))) for name, value in values]))

    def action_explain(self) -> None:
        """Explain the room."""
        self.app.push_screen(Reading("explain", [*EXPLAINED, ("command", self.command())]))


def _rows(count: int) -> str:
    return "1 row" if count == 1 else f"{count:,} rows"


def _table(report: StatementReport) -> tuple[list[Column], list[Row]]:
    """Lay rows out: numbers right, all else left; a column is ordered where its values can be."""
    columns, orders = [], []
    for place, name in enumerate(report.columns):
        values = [row[place] for row in report.rows if row[place] is not None]
        kinds = {type(value) for value in values}
        numeric = bool(kinds) and kinds <= {int, float, Decimal}
        comparable = numeric or (len(kinds) == 1 and kinds <= set(ORDERED))
        title = safe(name)
        widest = max((len(_shown(row[place])) for row in report.rows), default=0)
        columns.append(Column(title, str(place) if comparable else "", not numeric, _width(title, widest)))
        orders.append(comparable)
    rows = [
        Row(
            tuple(safe(_shown(value)) for value in row),
            number,
            tuple(_key(value) if comparable else None for value, comparable in zip(row, orders)),
        )
        for number, row in enumerate(report.rows)
    ]
    return columns, rows


def _width(title: str, widest: int) -> int:
    """A fixed width for a column with long values; else 0, as wide as its cells."""
    return WIDEST if max(widest, len(title)) > WIDEST else 0


def _key(value: Any) -> Any:
    return None if isinstance(value, float) and value != value else value  # not a number has no order


def _shown(value: Any) -> str:
    """Write a value as it is, numbers with the digits that tell them apart."""
    if value is None:
        return wording.NO_FIGURE
    if isinstance(value, bool):
        return "true" if value else "false"
    return f"{value:.10g}" if isinstance(value, float) else str(value)
