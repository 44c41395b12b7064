"""Charts as widgets: each draws a report at a size once, and keeps its last drawings for going back."""

from collections import OrderedDict
from collections.abc import Callable, Hashable

from rich.text import Text
from textual.widget import Widget

MOST_KEPT = 8  # drawings


class Chart(Widget):
    """Whatever a function draws for a width and a height."""

    DEFAULT_CSS = "Chart { height: 1fr; }"

    def __init__(self, *, id: str | None = None) -> None:  # noqa: A002 - as widgets are named
        super().__init__(id=id)
        self._key: Hashable = None
        self._draw: Callable[[int, int], Text] | None = None
        self._drawn: OrderedDict[tuple[Hashable, int, int], Text] = OrderedDict()

    def show(self, key: Hashable, draw: Callable[[int, int], Text]) -> None:
        """Draw something; `key` says what it is, and the same key is not drawn again."""
        if key != self._key:
            self._key, self._draw = key, draw
            self.refresh()

    def render(self) -> Text:
        """Give the drawing for the present size."""
        size = (self.size.width, self.size.height)
        if self._draw is None or not all(size):
            return Text()
        asked = (self._key, *size)
        if asked not in self._drawn:
            self._drawn[asked] = self._draw(*size)
            while len(self._drawn) > MOST_KEPT:
                self._drawn.popitem(last=False)
        self._drawn.move_to_end(asked)
        return self._drawn[asked]
