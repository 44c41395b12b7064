"""The submitted rows that one rule found: a list as long as it is, and what the hospital is told of each."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from textual import work
from textual.message import Message
from textual.widget import Widget
from textual.widgets import Static

from regdash.cohort import Cohort
from regdash.dashboard import wording
from regdash.dashboard.asked import Asked
from regdash.dashboard.place import Place
from regdash.dashboard.screens.joints import PAGE, Pages
from regdash.dashboard.sections_of_rows import RulesSection, found_command
from regdash.dashboard.widgets.grid import Column, Grid, Row
from regdash.errors import Cancelled, RegdashError
from regdash.reports.submitted_rows import FoundRow, FoundRowsReport, RuleTotal

if TYPE_CHECKING:
    from regdash.dashboard.questions import Questions

COLUMNS = (
    Column("submission", "submission", left=True),
    Column("row", "row"),
    Column("hospital", "hospital", left=True),
    Column("record", "record", left=True),
    Column("said", "value", left=True),
    Column("severity", "severity", left=True),
    Column("file", "file", left=True),
    Column("rule", "rule", left=True),
)
FIRST_ORDER = "submission"
OF_RULES = RulesSection()


class FoundRowsScreen(Place):
    """The rows of one rule and file."""

    WITHOUT = ("view", "endpoint", "group", "horizon")
    EXPORTS = "held rows"
    DEFAULT_CSS = """
    FoundRowsScreen #told { height: 3; padding: 0 1; }
    """
    answer: FoundRowsReport | None

    class Page(Message):
        """A further page, for the list of a generation; no rows where its question was cancelled."""

        def __init__(self, generation: int, offset: int, rows: tuple[FoundRow, ...] | None) -> None:
            super().__init__()
            self.generation, self.offset, self.rows = generation, offset, rows

    def __init__(self, rule: RuleTotal, within: tuple[str, ...], trail: tuple[str, ...]) -> None:
        super().__init__(within, trail)
        self.rule = rule
        self.order = FIRST_ORDER
        self._pages: Pages | None = None

    def body(self) -> Iterable[Widget]:
        """Lay out the list, and under it what the hospital is told of the row under the cursor."""
        yield Grid(id="rows", empty="no rows")
        yield Static(id="told", markup=False)

    # Ask

    def fetch(self, desk: Questions, asked: Asked) -> FoundRowsReport:
        """Ask for the first page."""
        return self._page(desk, asked, 0)

    def _page(self, desk: Questions, asked: Asked, offset: int) -> FoundRowsReport:
        return desk.found_rows(_followed(asked), self.rule.rule, self.rule.file, offset, PAGE, self.order)

    @work(thread=True, group="page")
    def _fetch_page(self, desk: Questions, generation: int, asked: Asked, offset: int) -> None:
        if generation != self.generation:
            return
        try:
            self.post_message(self.Page(generation, offset, self._page(desk, asked, offset).rows))
        except Cancelled:
            self.post_message(self.Page(generation, offset, None))
        except RegdashError as refusal:
            self.post_message(self.Answered(generation, asked, refusal))

    def says_how(self, asked: Asked) -> str:
        """Say the order, and which words of the filter rows cannot follow."""
        left_out = OF_RULES.not_followed(asked.cohort)
        order = next(column.title for column in COLUMNS if column.order == self.order.lstrip("-"))
        return " · ".join([f"ordered by {order}", *([f"{' '.join(left_out)} not followed here"] if left_out else [])])

    def command(self) -> str:
        """The same question at the command line."""
        return found_command(_followed(self.asked or self.question), self.rule)

    def counts_of(self) -> str:
        """How many rows there are, and what each was found for."""
        return f"{wording.so_many(self.answer.total, 'row')} · {self.rule.severity}" if self.answer else ""

    def head(self) -> None:
        """Rows are of no joints, so there are none to count."""
        return None

    # Paint

    def paint(self) -> None:
        """Show the list from its first page on."""
        report, asked, desk, generation = self.answer, self.asked, self.dashboard.desk, self.generation
        assert report is not None
        assert asked is not None
        assert desk is not None
        self._pages = Pages(report.total, lambda offset: self._fetch_page(desk, generation, asked, offset), _row)
        self._pages.put(0, report.rows)
        grid = self.query_one(Grid)
        grid.order = (self.order.lstrip("-"), self.order.startswith("-"))
        grid.show(COLUMNS, self._pages)
        self._tell(grid.current)

    def on_found_rows_screen_page(self, message: Page) -> None:
        """Put a further page where it belongs."""
        if message.generation == self.generation and self._pages is not None:
            self._pages.put(message.offset, message.rows)
            self.query_one(Grid).refresh()
            self._tell(self.query_one(Grid).current)

    def _tell(self, row: Row | None) -> None:
        self.query_one("#told", Static).update(row.value.text if row else "")

    # Act

    def on_grid_moved(self, message: Grid.Moved) -> None:
        """Say what the hospital is told of the row under the cursor."""
        self._tell(message.row)

    def on_grid_ordered(self, message: Grid.Ordered) -> None:
        """List again in another order."""
        self.order = f"{'-' if message.descending else ''}{message.order}"
        message.grid.cursor = 0
        self.ask()

    def explain_answer(self) -> None:
        """Explain the list."""
        from regdash.dashboard.explain import explained_rows

        if self.answer is not None and self.asked is not None:
            left_out = OF_RULES.not_followed(self.asked.cohort)
            about = f"rows of {self.rule.file} that the rule {self.rule.rule} found: {self.rule.told}"
            said = explained_rows(self.answer.head, about, _followed(self.asked), left_out, self.command())
            self.read_explained(said)


def _followed(asked: Asked) -> Cohort:
    return OF_RULES.followed(asked.cohort)


def _row(found: FoundRow) -> Row:
    cells = (found.submission, wording.count(found.row), found.hospital, found.record or wording.NO_FIGURE)
    return Row((*cells, found.value or wording.NO_FIGURE, found.severity, found.file, found.rule), found)
