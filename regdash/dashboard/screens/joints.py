"""The joints themselves: a list as long as it is, fetched a page at a time as it comes into view."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import TYPE_CHECKING, Any, ClassVar

from textual import work
from textual.message import Message
from textual.widget import Widget

from regdash.dashboard import wording
from regdash.dashboard.asked import Asked
from regdash.dashboard.screens.later_words import LaterWords
from regdash.dashboard.widgets.grid import Column, Grid, Row
from regdash.errors import Cancelled, RegdashError, WriteError

if TYPE_CHECKING:
    from regdash.dashboard.questions import Questions

PAGE = 200
MOST_WRITTEN = 200_000  # joints that are written out at once
TITLES = {
    "joint_id": "joint",
    "implanted_date": "implanted",
    "hospital_id": "hospital",
    "surgeon_id": "surgeon",
    "followed_years": "years",
    "done_date": "done",
    "years_since": "years",
    "sequence": "revision",
    "operation_id": "operation",
}
RIGHT = {"age", "followed_years", "years_since", "sequence"}
FIRST_COLUMNS = ("joint_id", "implanted_date", "followed_years", "ended", "reason", "age", "sex", "class", "construct")


class Pages:
    """Rows of a long list; a row that is not there yet is asked for by its page."""

    def __init__(self, total: int, missing: Callable[[int], object], row: Callable[[Any], Row]) -> None:
        self._total = total
        self._missing = missing
        self._row = row
        self._pages: dict[int, tuple[Any, ...]] = {}
        self._asked: set[int] = set()

    def put(self, offset: int, rows: tuple[Any, ...] | None) -> None:
        """Keep a page that has arrived; one that did not may be asked for again."""
        self._asked.discard(offset // PAGE)
        if rows is not None:
            self._pages[offset // PAGE] = rows

    def __len__(self) -> int:
        return self._total

    def __getitem__(self, index: int) -> Row | None:
        page, place = divmod(index, PAGE)
        if page in self._pages:
            rows = self._pages[page]
            return self._row(rows[place]) if place < len(rows) else None
        if page not in self._asked:
            self._asked.add(page)
            self._missing(page * PAGE)
        return None


class JointsScreen(LaterWords):
    """A list of joints; the one place that may be chosen by what happened later."""

    ENTER = "its life"
    EXPORTS = "joints"
    LISTS = "joints"
    FIRST_COLUMNS: ClassVar[tuple[str, ...]] = FIRST_COLUMNS
    OWN_KEYS: ClassVar[dict[str, str]] = {
        "filter": "edit the filter; here also by what happened: ended, reason, action, revised, stem, augment, graft"
    }
    WITHOUT = ("view", "endpoint", "group", "horizon")
    answer: Any  # a JointsReport, or another list with columns and rows by the page; None

    class Page(Message):
        """A further page, for the list of a generation; no rows where its question was cancelled."""

        def __init__(self, generation: int, offset: int, rows: tuple[tuple[Any, ...], ...] | None) -> None:
            super().__init__()
            self.generation, self.offset, self.rows = generation, offset, rows

    def __init__(self, within: tuple[str, ...] = (), trail: tuple[str, ...] = ()) -> None:
        super().__init__(within, trail)
        self.order = "implanted_date"
        self._pages: Pages | None = None

    def body(self) -> Iterable[Widget]:
        """Lay out the list."""
        yield Grid(id="joints", empty=f"no {self.LISTS}")

    # Ask

    def page_of(self, desk: Questions, asked: Asked, offset: int, limit: int) -> Any:
        """Ask for some of them."""
        return desk.joints(asked.cohort, offset, limit, self.order)

    def fetch(self, desk: Questions, asked: Asked) -> Any:
        """Ask for the first page."""
        return self.page_of(desk, asked, 0, PAGE)

    @work(thread=True, group="page")
    def _fetch_page(self, desk: Questions, generation: int, asked: Asked, offset: int) -> None:
        if generation != self.generation:
            return
        try:
            rows = self.page_of(desk, asked, offset, PAGE).rows
            self.post_message(self.Page(generation, offset, rows))
        except Cancelled:
            self.post_message(self.Page(generation, offset, None))
        except RegdashError as refusal:
            self.post_message(self.Answered(generation, asked, refusal))

    def says_how(self, asked: Asked) -> str:
        """Say the order."""
        return f"ordered by {TITLES.get(self.order.lstrip('-'), self.order.lstrip('-'))}"

    def figures(self, desk: Questions) -> Any:
        """All rows of the list, and not only those that were looked at."""
        asked, report = self.asked, self.answer
        if asked is None or report is None:
            return None
        if (report.total or 0) > MOST_WRITTEN:
            many = f"{report.total:,} {self.LISTS}"
            raise WriteError(f"{many} are too many to write from here. Ask: {self.command()} --csv")
        return self.page_of(desk, asked, 0, MOST_WRITTEN)

    def export_facts(self) -> dict[str, str]:
        """Which joints."""
        return {"filter": str(self.asked.cohort if self.asked else "")}

    def command(self) -> str:
        """The same question at the command line."""
        asked = self.asked or self.question
        return f"regdash joints {wording.words_for_shell(asked.cohort.words)} --order {self.order}".replace("  ", " ")

    # Paint

    def paint(self) -> None:
        """Show the list from its first page on."""
        report, asked, desk, generation = self.answer, self.asked, self.dashboard.desk, self.generation
        assert report is not None
        assert asked is not None
        assert desk is not None
        order = [report.columns.index(name) for name in self.FIRST_COLUMNS if name in report.columns]
        order += [n for n in range(len(report.columns)) if n not in order]
        joint = report.columns.index("joint_id")

        def row(values: tuple[Any, ...]) -> Row:
            return Row(tuple(_written(values[n]) for n in order), values[joint])

        self._pages = Pages(report.total, lambda offset: self._fetch_page(desk, generation, asked, offset), row)
        self._pages.put(0, report.rows)
        columns = [report.columns[n] for n in order]
        grid = self.query_one(Grid)
        grid.order = (self.order.lstrip("-"), self.order.startswith("-"))
        grid.show([Column(TITLES.get(name, name), name, left=name not in RIGHT) for name in columns], self._pages)

    def on_joints_screen_page(self, message: Page) -> None:
        """Put a further page where it belongs."""
        if message.generation == self.generation and self._pages is not None:
            self._pages.put(message.offset, message.rows)
            self.query_one(Grid).refresh()

    # Act

    def on_grid_ordered(self, message: Grid.Ordered) -> None:
        """List again in another order."""
        self.order = f"{'-' if message.descending else ''}{message.order}"
        message.grid.cursor = 0
        self.ask()

    def on_grid_opened(self, message: Grid.Opened) -> None:
        """Open what the cursor stands on."""
        if message.row is not None:
            self.open_joint(message.row.value)

    def open_joint(self, joint_id: str | None) -> None:
        """Open one joint's life."""
        from regdash.dashboard.screens.joint import JointScreen

        if joint_id is not None:
            self.app.push_screen(JointScreen(joint_id, (*self.trail, joint_id)))


def _written(value: Any) -> str:
    if value is None:
        return "–"
    return f"{value:.2f}" if isinstance(value, float) else str(value)
