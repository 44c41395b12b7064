"""Charts as widgets: each draws its report at its own size, once, and keeps the drawing until either changes."""

from collections.abc import Callable, Hashable

from rich.text import Text
from textual.widget import Widget


class Chart(Widget):
    """Whatever a function draws for a width and a height."""

    DEFAULT_CSS = "Chart { height: 1fr; }"

    def __init__(self, *, id: str | None = None) -> None:  # noqa: A002 - as widgets are named
        super().__init__(id=id)
        self._key: Hashable = None
        self._draw: Callable[[int, int], Text] | None = None
        self._drawn: dict[tuple[int, int], Text] = {}

    def show(self, key: Hashable, draw: Callable[[int, int], Text]) -> None:
        """Draw something; `key` says what it is, and the same key is not drawn again."""
        if key != self._key:
            self._key, self._draw = key, draw
            self._drawn.clear()
            self.refresh()

    def render(self) -> Text:
        """Give the drawing for the present size."""
        size = (self.size.width, self.size.height)
        if self._draw is None or not all(size):
            return Text()
        if size not in self._drawn:
            self._drawn[size] = self._draw(*size)
        return self._drawn[size]
