"""Named paragraphs in two columns. They are laid out once for a width, and only the lines in view are painted."""

from collections.abc import Sequence

from rich.cells import cell_len
from rich.segment import Segment
from rich.style import Style
from rich.text import Text
from textual.geometry import Size
from textual.strip import Strip
from textual.widget import Widget

GAP = 2  # blank columns between what a paragraph is about and what it says
NAMED = Style(bold=True)


class Paragraphs(Widget):
    """What each paragraph is about, and beside it what it says, folded to the width."""

    DEFAULT_CSS = "Paragraphs { height: auto; }"

    def __init__(self, paragraphs: Sequence[tuple[str, str]]) -> None:
        super().__init__()
        self._paragraphs = paragraphs
        self._width = 0  # that the lines are laid out for
        self._lines: list[tuple[str, str]] = []

    def get_content_width(self, container: Size, viewport: Size) -> int:
        """Take all the room there is."""
        return container.width

    def get_content_height(self, container: Size, viewport: Size, width: int) -> int:
        """Take as many lines as it says."""
        return len(self._laid_out(width))

    def render_line(self, y: int) -> Strip:
        """Paint one line."""
        lines = self._laid_out(self.size.width)
        about, says = lines[y] if y < len(lines) else ("", "")
        style = self.rich_style
        return Strip([Segment(about, style + NAMED), Segment(says, style)]).adjust_cell_length(self.size.width, style)

    def _laid_out(self, width: int) -> list[tuple[str, str]]:
        if width != self._width:
            first = max((cell_len(about) for about, _ in self._paragraphs), default=0) + GAP
            self._width, self._lines = width, []
            for about, says in self._paragraphs:
                folded = Text(says).wrap(self.app.console, max(1, width - first), overflow="fold") or [Text()]
                beside = [about + " " * (first - cell_len(about)), *[" " * first] * (len(folded) - 1)]
                self._lines += zip(beside, (line.plain for line in folded))
        return self._lines
