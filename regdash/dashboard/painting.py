"""
What happens to every line on its way to the terminal: signs that it lacks are stood in for, colours are left out
where none are wanted, and a light background gets colours that can be read on it.
"""

from functools import lru_cache

from rich.segment import Segment
from rich.style import Style
from rich.terminal_theme import TerminalTheme
from textual.color import Color
from textual.filter import LineFilter

from regdash.charts.ascii_signs import in_ascii
from regdash.dashboard.terminal import Look

THEMES = {"dark": "textual-dark", "light": "textual-light"}
# On the light background each has a contrast of 4.5 or more (WCAG 2.2, 1.4.3), and no two are alike in hue and
# lightness both; the names are those of a terminal's palette.
_ON_LIGHT = [
    (0, 0, 0),  # black
    (150, 30, 20),  # red
    (0, 85, 45),  # green
    (115, 75, 0),  # yellow
    (0, 70, 150),  # blue
    (130, 30, 110),  # magenta
    (0, 90, 115),  # cyan
    (60, 60, 60),  # white
]
_ON_LIGHT_BRIGHT = [
    (70, 70, 70),
    (165, 40, 0),
    (50, 95, 0),
    (125, 70, 10),
    (65, 55, 175),
    (150, 20, 80),
    (0, 85, 95),
    (40, 40, 40),
]
LIGHT_PALETTE = TerminalTheme((224, 224, 224), (20, 20, 20), _ON_LIGHT, _ON_LIGHT_BRIGHT)


class AsciiLines(LineFilter):
    """Lines of ASCII signs alone."""

    def apply(self, segments: list[Segment], background: Color) -> list[Segment]:
        """Stand in for the signs of a line; a tick of an axis is known by what stands before it."""
        line = "".join(segment.text for segment in segments)
        if line.isascii():
            return segments
        written = in_ascii(line)
        if len(written) != len(line):  # a sign of two columns, or of none, moves what follows
            return [Segment(in_ascii(text), style, control) for text, style, control in segments]
        placed, start = [], 0
        for text, style, control in segments:
            placed.append(Segment(written[start : start + len(text)], style, control))
            start += len(text)
        return placed


class PlainLines(LineFilter):
    """Lines without colours: the terminal's own, with bold, underlined and reversed as they are."""

    def apply(self, segments: list[Segment], background: Color) -> list[Segment]:
        """Leave out the colours of a line."""
        return [Segment(text, _without_colour(style), control) for text, style, control in segments]


@lru_cache(1024)
def _without_colour(style: Style | None) -> Style | None:
    return style and style.without_color


def filters_for(look: Look) -> list[LineFilter]:
    """What lines go through last."""
    filters: list[LineFilter] = []
    if not look.colours:
        filters.append(PlainLines())
    if look.ascii_only:
        filters.append(AsciiLines())
    return filters
