"""
Only what changed goes over the line: what the terminal shows is remembered cell by cell, and an update is written as
the runs of cells that differ from it. Laying a prompt over a screen then costs its own lines and not the screen.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache
from typing import NamedTuple

from rich.cells import cell_len
from rich.color import ColorSystem
from rich.console import Console, ConsoleOptions, RenderResult
from rich.segment import Segment
from rich.style import Style
from textual._compositor import ChopsUpdate, CompositorUpdate, LayoutUpdate
from textual.geometry import Size
from textual.strip import Strip

NEAR = 5  # cells that are written again rather than jumped over
NOT_KNOWN = "\0"  # in a cell of which nobody knows what the terminal shows
SEEN_ON_BLANKS = {"4", "7", "9", "21", "53"}  # underlined, reversed, struck through, underlined twice, overlined


class Pen(NamedTuple):
    """How a cell is painted, in the codes of ECMA-48: weights and lines, colour, background."""

    weights: str = ""
    colour: str | None = ""  # None: a blank, whose colour nobody sees
    background: str = ""


PLAIN = Pen()
Cells = tuple[list[str], list[Pen]]  # signs and how they are painted; the second half of a wide sign is empty


class ChangedCells:
    """What the terminal shows, and what must be written to change it."""

    def __init__(self) -> None:
        self._size = Size(0, 0)
        self._shown: list[Cells] = []

    def forget(self) -> None:
        """Take what the terminal shows as not known: the next update is written whole."""
        self._size = Size(0, 0)

    def bears(self, update: object) -> bool:
        """Whether an update is of a kind that can be taken apart."""
        return isinstance(update, (LayoutUpdate, ChopsUpdate))

    def written(self, update: object, size: Size, console: Console) -> str:
        """
        Write an update, and remember what the terminal shows then.

        Args:
            update: one that it `bears`.
            size: of the terminal; where it has changed everything is written.
        """
        if size != self._size:
            self._size = size
            self._shown = [([NOT_KNOWN] * size.width, [PLAIN] * size.width) for _ in range(size.height)]
        colours = console._color_system or ColorSystem.TRUECOLOR
        said, pen = [], PLAIN
        for y, strips in _lines(update):
            if not 0 <= y < size.height:
                continue
            before = self._shown[y]
            now = self._shown[y] = (before[0].copy(), before[1].copy())
            for x, strip in strips:
                _put(*now, x, strip, colours)
            runs, pen = _painted(y, before, now, pen)
            said.append(runs)
        if pen != PLAIN:
            said.append("\x1b[0m")
        return "".join(said)


class Written(CompositorUpdate):
    """An update that is written as what it was found to change."""

    def __init__(self, sequence: str) -> None:
        self.sequence = sequence

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        """Give it to a console."""
        yield Segment(self.sequence)

    def render_segments(self, console: Console) -> str:
        """Give what is to be written."""
        return self.sequence


def _lines(update: object) -> Iterator[tuple[int, list[tuple[int, Strip]]]]:
    """Take an update apart: each line, with its strips and where they begin."""
    if isinstance(update, LayoutUpdate):
        for y, line in enumerate(update.strips, update.region.y):
            placed, x = [], update.region.x
            for strip in line:
                placed.append((x, strip))
                x += strip.cell_length
            yield y, placed
    elif isinstance(update, ChopsUpdate):
        for y, first, last in update.spans:
            placed = []
            for end, (x, part) in zip(update.chop_ends[y], update.chops[y].items()):
                if part is not None and x <= last and end > first:
                    placed.append((x, part.crop(0, min(end, last) - x) if end > last or x < first else part))
            yield y, placed


def _put(signs: list[str], pens: list[Pen], x: int, strip: Strip, colours: ColorSystem) -> None:
    """Put a strip into a line; what lies beyond its end is left out."""
    for text, style, control in strip:
        if control or not text:
            continue
        pen, blank = _pens(style, colours) if style else (PLAIN, Pen(colour=None))
        cells = list(text) if text.isascii() or cell_len(text) == len(text) else _cells(text)
        count = min(len(cells), len(signs) - x)
        signs[x : x + count] = cells[:count]
        pens[x : x + count] = [blank if sign == " " else pen for sign in cells[:count]]
        x += count


def _cells(text: str) -> list[str]:
    """A sign for each column: wide ones are followed by an empty cell, and what has no width joins what it follows."""
    cells: list[str] = []
    for sign in text:
        width = cell_len(sign)
        if width:
            cells += [sign, *[""] * (width - 1)]
        elif cells:
            cells[-1] += sign
    return cells


@lru_cache(4096)
def _pens(style: Style, colours: ColorSystem) -> tuple[Pen, Pen]:
    """How a style paints a sign, and how a blank."""
    weights = Strip.render_ansi(style.without_color, colours)
    colour, background = (
        ";".join(color.downgrade(colours).get_ansi_codes(foreground)) if color else ""
        for color, foreground in ((style.color, True), (style.bgcolor, False))
    )
    pen = Pen(weights, colour, background)
    return pen, pen if SEEN_ON_BLANKS & set(weights.split(";")) else Pen("", None, background)


@lru_cache(4096)
def _changed(pen: Pen, wanted: Pen) -> tuple[str, Pen]:
    """The codes that take a terminal from one way of painting to another, and what it paints with then."""
    if wanted.colour is None:
        if not SEEN_ON_BLANKS & set(pen.weights.split(";")):
            wanted = pen._replace(background=wanted.background)
        else:
            wanted = wanted._replace(colour="")
    if pen.weights != wanted.weights:
        codes = ["0", wanted.weights, wanted.colour, wanted.background]
    else:
        codes = [
            (wanted.colour or "39") if wanted.colour != pen.colour else "",
            (wanted.background or "49") if wanted.background != pen.background else "",
        ]
    said = ";".join(code for code in codes if code)
    return (f"\x1b[{said}m" if said else ""), wanted


def _painted(y: int, before: Cells, now: Cells, pen: Pen) -> tuple[str, Pen]:
    """Write what changed in a line, and say what the terminal paints with then."""
    said, end = [], -1  # column at which the terminal's cursor stands; at first none on this line
    for first, last in _runs(before, now):
        said.append(f"\x1b[{y + 1};{first + 1}H" if end < 0 else f"\x1b[{first - end}C")
        for sign, wanted in zip(now[0][first:last], now[1][first:last]):
            if wanted != pen:
                codes, pen = _changed(pen, wanted)
                said.append(codes)
            said.append(sign)
        end = last
    return "".join(said), pen


def _runs(before: Cells, now: Cells) -> Iterator[tuple[int, int]]:
    """Find the runs of cells that differ, first and one past the last; near ones are joined, no wide sign is cut."""
    if before == now:
        return
    changed = [n for n, (was, so) in enumerate(zip(zip(*before), zip(*now))) if was != so]
    signs, count = now[0], len(now[0])
    first = last = -1
    for n in changed:
        if first >= 0 and n <= last + NEAR:
            last = n + 1
            continue
        if first >= 0:
            yield _whole(signs, first, last, count)
        first, last = n, n + 1
    yield _whole(signs, first, last, count)


def _whole(signs: list[str], first: int, last: int, count: int) -> tuple[int, int]:
    while first > 0 and not signs[first]:
        first -= 1
    while last < count and not signs[last]:
        last += 1
    return first, last
