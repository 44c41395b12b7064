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

Rgb = tuple[int, int, int]
THEMES = {"dark": "textual-dark", "light": "textual-light"}
# Colours by the names of a terminal's palette, plain and bright. Each that a curve takes has a contrast of 4.5 or more
# against its background (WCAG 2.2, 1.4.3), and no two are the same. Those on dark follow Okabe and Ito's set for all
# kinds of colour vision ("Color universal design", 2008), lighter where the contrast asks for it.
_ON_DARK = {
    "black": ((18, 18, 18), (120, 120, 120)),
    "red": ((230, 110, 40), (255, 140, 90)),
    "green": ((0, 175, 130), (190, 235, 170)),
    "yellow": ((240, 228, 66), (230, 159, 0)),
    "blue": ((70, 150, 215), (140, 150, 255)),
    "magenta": ((214, 131, 177), (245, 180, 215)),
    "cyan": ((86, 180, 233), (130, 220, 245)),
    "white": ((225, 225, 225), (255, 255, 255)),
}
_ON_LIGHT = {
    "black": ((0, 0, 0), (70, 70, 70)),
    "red": ((150, 30, 20), (165, 40, 0)),
    "green": ((0, 85, 45), (50, 95, 0)),
    "yellow": ((115, 75, 0), (125, 70, 10)),
    "blue": ((0, 70, 150), (65, 55, 175)),
    "magenta": ((130, 30, 110), (150, 20, 80)),
    "cyan": ((0, 90, 115), (0, 85, 95)),
    "white": ((60, 60, 60), (40, 40, 40)),
}


def _palette(background: Rgb, foreground: Rgb, colours: dict[str, tuple[Rgb, Rgb]]) -> TerminalTheme:
    plain, bright = ([pair[n] for pair in colours.values()] for n in (0, 1))
    return TerminalTheme(background, foreground, plain, bright)


DARK_PALETTE = _palette((18, 18, 18), (224, 224, 224), _ON_DARK)
LIGHT_PALETTE = _palette((224, 224, 224), (20, 20, 20), _ON_LIGHT)


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
    """Lines without colours: the terminal's own, with bold and underlined as they are, and what stands out reversed."""

    def apply(self, segments: list[Segment], background: Color) -> list[Segment]:
        """Leave out the colours of a line; a background of its own, as a cursor has, becomes a reversed one."""
        behind = background.rgb
        return [Segment(text, _without_colour(style, behind), control) for text, style, control in segments]


@lru_cache(1024)
def _without_colour(style: Style | None, behind: Rgb) -> Style | None:
    if style is None:
        return None
    own = style.bgcolor
    stands_out = own is not None and not own.is_default and tuple(own.get_truecolor()) != behind
    return style.without_color + Style(reverse=True) if stands_out and not style.reverse else style.without_color


def filters_for(look: Look) -> list[LineFilter]:
    """What lines go through last."""
    filters: list[LineFilter] = []
    if not look.colours:
        filters.append(PlainLines())
    if look.ascii_only:
        filters.append(AsciiLines())
    return filters
