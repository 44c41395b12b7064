"""
A list with a cursor. It formats only the rows in view, so a list may be as long as it likes; rows that have not
been fetched yet show as dots. Left and right choose a column to order by.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, ClassVar, Protocol

from rich.cells import cell_len
from rich.text import Text
from textual.binding import Binding
from textual.geometry import Size
from textual.message import Message
from textual.reactive import reactive
from textual.scroll_view import ScrollView
from textual.strip import Strip

GAP = 2  # blank columns between two columns
MEASURED_ROWS = 100  # rows of a list fetched by pages that are looked at to find a column's width
ASCENDING, DESCENDING = "▲", "▼"


@dataclass(frozen=True)
class Column:
    """A column: its title, the name it is ordered by (empty: it cannot be), and how it stands."""

    title: str
    order: str = ""
    left: bool = False
    width: int = 0  # 0: as wide as its cells


@dataclass(frozen=True)
class Row:
    """A row: a cell for each column, what Enter opens, and what each column is ordered by."""

    cells: tuple[str | Text, ...]
    value: Any = None
    keys: tuple[Any, ...] = ()


class Rows(Protocol):
    """Anything that has rows; None stands for a row that is not there yet."""

    def __len__(self) -> int: ...
    def __getitem__(self, index: int, /) -> Row | None: ...


class Grid(ScrollView, can_focus=True):
    """A list of rows with a row cursor, a chosen column and an order."""

    COMPONENT_CLASSES: ClassVar = {"grid--header", "grid--chosen", "grid--cursor", "grid--idle"}
    DEFAULT_CSS = """
    Grid { height: 1fr; overflow-x: hidden; overflow-y: auto; scrollbar-size-vertical: 1; }
    Grid .grid--header { text-style: bold; }
    Grid .grid--chosen { text-style: bold underline; }
    Grid .grid--cursor { text-style: reverse; }
    Grid .grid--idle { text-style: none; }
    """
    BINDINGS: ClassVar = [
        *(
            Binding(key, action, show=False)
            for key, action in (
                ("up", "move(-1)"),
                ("down", "move(1)"),
                ("pageup", "page(-1)"),
                ("pagedown", "page(1)"),
                ("home", "go(0)"),
                ("end", "go(-1)"),
                ("left", "choose(-1)"),
                ("right", "choose(1)"),
                ("enter", "open"),
            )
        ),
    ]

    cursor: reactive[int] = reactive(0, repaint=False)
    chosen: reactive[int] = reactive(0)

    class Moved(Message):
        """The cursor stands on another row, or another column is chosen."""

        def __init__(self, grid: "Grid", row: Row | None) -> None:
            super().__init__()
            self.grid, self.row = grid, row

        @property
        def control(self) -> "Grid":
            return self.grid

    class Opened(Moved):
        """Enter was pressed on a row."""

    class Ordered(Message):
        """An order was asked for."""

        def __init__(self, grid: "Grid", order: str, descending: bool) -> None:
            super().__init__()
            self.grid, self.order, self.descending = grid, order, descending

    def __init__(self, *, id: str | None = None, empty: str = "no rows") -> None:  # noqa: A002 - as widgets are named
        super().__init__(id=id)
        self.empty = empty
        self.columns: tuple[Column, ...] = ()
        self.rows: Rows = ()
        self.order: tuple[str, bool] | None = None  # name, and whether it falls
        self._widths: list[int] = []

    # What it shows

    def show(self, columns: Sequence[Column], rows: Rows) -> None:
        """Show rows; the cursor stays on the row that has the same value, or where it was."""
        held = self.current.value if self.current else None
        self.columns, self.rows = tuple(columns), rows
        if self.order and isinstance(rows, list):
            self._sort()
        self.chosen = min(self.chosen, max(0, len(self.columns) - 1))
        self.measure()
        self.virtual_size = Size(self.size.width, len(rows) + 1)
        self._put_cursor(self._find(held))
        self.refresh()

    def measure(self) -> None:
        """Find the width of each column from its first rows."""
        most = len(self.rows) if isinstance(self.rows, list) else min(len(self.rows), MEASURED_ROWS)
        seen = [row for row in map(self.rows.__getitem__, range(most)) if row is not None]
        self._widths = [
            column.width or max([len(self._title(column))] + [_width(row.cells[n]) for row in seen])
            for n, column in enumerate(self.columns)
        ]

    @property
    def current(self) -> Row | None:
        """The row under the cursor."""
        return self.rows[self.cursor] if 0 <= self.cursor < len(self.rows) else None

    @property
    def listed(self) -> list[Row]:
        """All rows in their order, where they are all there."""
        return self.rows if isinstance(self.rows, list) else []

    def _find(self, value: Any) -> int:
        if value is None or not isinstance(self.rows, list):
            return min(self.cursor, max(0, len(self.rows) - 1))
        return next((n for n, row in enumerate(self.rows) if row.value == value), min(self.cursor, len(self.rows) - 1))

    # Moving

    def validate_cursor(self, value: int) -> int:
        """Keep the cursor on a row."""
        return max(0, min(value, len(self.rows) - 1))

    def watch_cursor(self, before: int, now: int) -> None:
        """Repaint the two rows that changed and keep the cursor in view."""
        self._keep_in_view()
        for row in {before, now}:
            self.refresh_line(row + 1)
        self.post_message(self.Moved(self, self.current))

    def watch_chosen(self) -> None:
        """Tell that another column is looked at."""
        self.post_message(self.Moved(self, self.current))

    def _put_cursor(self, row: int) -> None:
        self.cursor = row
        self._keep_in_view()

    def _keep_in_view(self) -> None:
        first, room = self.scroll_offset.y, max(1, self.size.height - 1)
        if self.cursor < first:
            self.scroll_to(y=self.cursor, animate=False, immediate=True)
        elif self.cursor >= first + room:
            self.scroll_to(y=self.cursor - room + 1, animate=False, immediate=True)

    def on_resize(self) -> None:
        """Keep the cursor in view when the room changes."""
        self.virtual_size = Size(self.size.width, len(self.rows) + 1)
        self._keep_in_view()

    def action_move(self, rows: int) -> None:
        """Move the cursor by rows."""
        self.cursor += rows

    def action_page(self, pages: int) -> None:
        """Move the cursor by what fits on the screen."""
        self.cursor += pages * max(1, self.size.height - 2)

    def action_go(self, row: int) -> None:
        """Move the cursor to the first or the last row."""
        self.cursor = row if row >= 0 else len(self.rows) - 1

    def action_choose(self, columns: int) -> None:
        """Choose another column."""
        self.chosen = max(0, min(self.chosen + columns, len(self.columns) - 1))

    def action_open(self) -> None:
        """Open what the cursor stands on."""
        if self.current is not None:
            self.post_message(self.Opened(self, self.current))

    # Order

    def order_by_chosen(self) -> bool:
        """Order by the chosen column, largest first, then smallest first; False where it has no order."""
        name = self.columns[self.chosen].order if self.columns else ""
        if not name:
            return False
        falling = not self.order[1] if self.order and self.order[0] == name else not self.columns[self.chosen].left
        self.order = (name, falling)
        if isinstance(self.rows, list):
            held = self.current
            self._sort()
            self._put_cursor(self.rows.index(held) if held else 0)
        self.measure()
        self.refresh()
        self.post_message(self.Ordered(self, name, falling))
        return True

    def _sort(self) -> None:
        assert self.order is not None
        assert isinstance(self.rows, list)
        name, falling = self.order
        at = next((n for n, column in enumerate(self.columns) if column.order == name), None)
        if at is None:
            return
        there = [row for row in self.rows if row.keys[at] is not None]
        missing = [row for row in self.rows if row.keys[at] is None]
        # What has no value stands last in either order.
        self.rows = sorted(there, key=lambda row: row.keys[at], reverse=falling) + missing

    # Painting

    def render_line(self, y: int) -> Strip:
        """Paint one line: the header, a row, or nothing."""
        width = self.scrollable_content_region.width
        if y == 0:
            return self._strip(self._header(), width, "grid--header")
        n = self.scroll_offset.y + y - 1
        if n >= len(self.rows):
            note = f" {self.empty}" if y == 1 and self.columns and not len(self.rows) else ""
            return self._strip(Text(note), width, "grid--idle")
        row = self.rows[n]
        if row is not None:
            self._make_room(row)
        at_cursor = n == self.cursor and self.screen.focused is self
        text = Text("▸" if at_cursor else " ")
        text.append_text(self._laid_out(row.cells) if row else Text("…"))
        return self._strip(text, width, "grid--cursor" if at_cursor else "grid--idle")

    def _make_room(self, row: Row) -> None:
        """Widen columns for a row that was not there when they were measured."""
        wider = [
            width if column.width else max(width, _width(cell))
            for width, column, cell in zip(self._widths, self.columns, row.cells)
        ]
        if wider != self._widths:
            self._widths = wider
            self.call_after_refresh(self.refresh)

    def _strip(self, text: Text, width: int, kind: str) -> Strip:
        style = self.get_component_rich_style(kind)
        text.truncate(width, pad=True)
        text.stylize_before(style)
        return Strip(text.render(self.app.console), width)

    def _header(self) -> Text:
        titles = []
        chosen_style = self.get_component_rich_style("grid--chosen")
        for n, column in enumerate(self.columns):
            can_choose = n == self.chosen and self.screen.focused is self and any(c.order for c in self.columns)
            titles.append(Text(self._title(column), style=chosen_style if can_choose else ""))
        shown = self._columns_in_view()
        header = Text(" ").append_text(self._laid_out(tuple(titles)))
        if shown and shown[-1] < len(self.columns) - 1:
            # The gap between columns holds the sign that there are more to the right.
            header.truncate(self.scrollable_content_region.width - 1, pad=True)
            header.append("›")
        return header

    def _title(self, column: Column) -> str:
        """The title, with the direction where the list is ordered by it."""
        if self.order and column.order and column.order == self.order[0]:
            return column.title + (DESCENDING if self.order[1] else ASCENDING)
        return column.title

    def _laid_out(self, cells: tuple[str | Text, ...]) -> Text:
        """Lay cells out side by side: the first always, then from where the chosen column is in view."""
        text = Text(no_wrap=True)
        for n in self._columns_in_view():
            given = cells[n]
            cell = given.copy() if isinstance(given, Text) else Text(given)
            width = self._widths[n]
            if self.columns[n].left:
                cell.truncate(width, overflow="ellipsis", pad=True)
            else:
                cell.truncate(width, overflow="ellipsis")
                cell.pad_left(width - cell.cell_len)
            text.append(" " * (GAP if n else 0)).append_text(cell)
        return text

    def _columns_in_view(self) -> list[int]:
        """The first column, then from where the chosen one is in view; a column that would be cut is left out."""
        if not self.columns:
            return []
        room = self.scrollable_content_region.width - 1 - self._widths[0]
        taken = [width + GAP for width in self._widths]
        first = 1
        while first < self.chosen and sum(taken[first : self.chosen + 1]) > room:
            first += 1
        shown = [0]
        for n in range(first, len(self.columns)):
            if sum(taken[k] for k in shown[1:]) + taken[n] > room and len(shown) > 1:
                break
            shown.append(n)
        return shown


def room_beside(width: int, columns: Sequence[Column], rows: Sequence[Sequence[str | Text]]) -> int:
    """Find how wide one more column may be in a list of this width, its cursor and scroll bar taken off."""
    widest = [c.width or max([len(c.title), *(_width(row[n]) for row in rows)]) for n, c in enumerate(columns)]
    return width - 2 - sum(widest) - GAP * len(columns)


def _width(cell: str | Text) -> int:
    if isinstance(cell, str):
        return len(cell) if cell.isascii() else cell_len(cell)  # lists of thousands of rows are measured whole
    return cell.cell_len
