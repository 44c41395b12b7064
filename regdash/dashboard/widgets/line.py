"""One line of text that is painted again only when it says something else."""

from rich.text import Text
from textual.widgets import Static


class Line(Static):
    """A line of text; what does not fit is cut with an ellipsis, and a right part stands at the right edge."""

    DEFAULT_CSS = "Line { height: 1; width: 1fr; }"

    def __init__(self, *, id: str | None = None) -> None:  # noqa: A002 - as widgets are named
        super().__init__(id=id, markup=False)
        self._left = Text()
        self._right = Text()

    @property
    def text(self) -> str:
        """What it says, both parts."""
        return f"{self._left.plain} {self._right.plain}".strip()

    @property
    def left(self) -> str:
        """Its left part."""
        return self._left.plain

    def say(self, left: Text | str, right: Text | str = "") -> None:
        """Say something; nothing happens where it is what the line says already."""
        new_left = left if isinstance(left, Text) else Text(left)
        new_right = right if isinstance(right, Text) else Text(right)
        if (new_left, new_right) != (self._left, self._right):
            self._left, self._right = new_left, new_right
            self.refresh()

    def render(self) -> Text:
        """Lay both parts out over the width."""
        room = self.size.width
        right = self._right.copy()
        right.truncate(room)
        left = self._left.copy()
        left.truncate(max(0, room - right.cell_len - (2 if right else 0)), overflow="ellipsis")
        gap = room - left.cell_len - right.cell_len
        return Text.assemble(left, " " * max(0, gap), right, no_wrap=True)
