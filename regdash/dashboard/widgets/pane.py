"""A titled list."""

from rich.text import Text
from textual.app import ComposeResult
from textual.containers import Vertical

from regdash.dashboard.widgets.grid import Grid
from regdash.dashboard.widgets.line import Line


class Pane(Vertical):
    """A list under a line that says what it lists."""

    DEFAULT_CSS = "Pane { height: 1fr; width: 1fr; }"

    def __init__(self, *, id: str, empty: str = "none") -> None:  # noqa: A002 - as widgets are named
        super().__init__(id=id)
        self.grid = Grid(id=f"{id}-grid", empty=empty)

    def compose(self) -> ComposeResult:
        """Lay out the title and the list."""
        yield Line(id="pane-title")
        yield self.grid

    def title(self, title: str | Text, right: str = "") -> None:
        """Say what it lists."""
        said = Text(f" {title}", style="bold") if isinstance(title, str) else title
        self.query_one("#pane-title", Line).say(said, right)
