"""
Plain text in columns: aligned, within a width, safe to show. What does not fit is wrapped or left out by rank,
and what was left out is named.
"""

import textwrap
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass, replace

GAP = "  "
UNBROKEN = 12  # columns of the longest word that is never broken
UNPRINTABLE = "\N{REPLACEMENT CHARACTER}"


@dataclass(frozen=True)
class Column:
    """One column of a table."""

    heading: str
    cells: Sequence[str]
    left: bool = False  # text stands left, numbers right
    rank: int = 0  # 0 always stays; of the others the highest is left out first where the width is short
    least: int | None = None  # the width down to which cells may be wrapped; None for never

    @property
    def width(self) -> int:
        """The columns of a terminal that its widest cell needs."""
        return max(map(wide, (self.heading, *self.cells)))


@dataclass(frozen=True)
class Table:
    """Lines of a table, and the headings that did not fit."""

    lines: tuple[str, ...]
    left_out: tuple[str, ...]


def safe(text: str) -> str:
    """
    Replace what a terminal would obey instead of show: cells may hold what anybody submitted.

    >>> safe("H012\\x1b[2J")
    'H012�[2J'
    """
    return text if text.isprintable() else "".join(c if c.isprintable() else UNPRINTABLE for c in text)


def wide(text: str) -> int:
    """Count the columns of a terminal that a text takes."""
    if text.isascii():
        return len(text)
    return sum(0 if unicodedata.combining(c) else 2 if unicodedata.east_asian_width(c) in "WF" else 1 for c in text)


def lay_out(columns: Sequence[Column], width: int) -> Table:
    """Set columns side by side within a width; wider only where nothing more may be wrapped or left out."""
    kept = [replace(column, cells=[safe(cell) for cell in column.cells]) for column in columns]
    left_out: list[str] = []
    while _total([_narrowest(column) for column in kept]) > width and (last := _next_out(kept)) is not None:
        left_out.insert(0, kept.pop(last).heading)
    widths = _shared(kept, width)
    rows = [[column.heading for column in kept], *zip(*(column.cells for column in kept))]
    lines = [line for row in rows for line in _row(kept, row, widths)]
    return Table((lines[0], "-" * _total(widths), *lines[1:]), tuple(left_out))


def _total(widths: Sequence[int]) -> int:
    return sum(widths) + len(GAP) * (len(widths) - 1)


def _narrowest(column: Column) -> int:
    return column.width if column.least is None else min(column.width, max(column.least, wide(column.heading)))


def _unbroken(column: Column) -> int:
    """The width down to which no word of up to so many columns is broken."""
    words = (wide(word) for cell in column.cells for word in cell.split())
    return min(column.width, max((_narrowest(column), *(word for word in words if word <= UNBROKEN))))


def _next_out(columns: Sequence[Column]) -> int | None:
    ranked = [(column.rank, place) for place, column in enumerate(columns) if column.rank]
    return max(ranked)[1] if ranked else None


def _shared(columns: Sequence[Column], width: int) -> list[int]:
    """Give each column what it needs, and take what is too much from the widest that may be wrapped, words last."""
    widths = [column.width for column in columns]
    for least in ([_unbroken(column) for column in columns], [_narrowest(column) for column in columns]):
        while _total(widths) > width:
            spare = [(has - needs, place) for place, (has, needs) in enumerate(zip(widths, least)) if has > needs]
            if not spare:
                break
            widths[max(spare)[1]] -= 1
    return widths


def _row(columns: Sequence[Column], cells: Sequence[str], widths: Sequence[int]) -> list[str]:
    wrapped = [_wrapped(cell, size) for cell, size in zip(cells, widths)]
    height = max(map(len, wrapped), default=1)
    lines = []
    for n in range(height):
        parts = [cell[n] if n < len(cell) else "" for cell in wrapped]
        padded = [_padded(column, part, size) for column, part, size in zip(columns, parts, widths)]
        lines.append(GAP.join(padded).rstrip())
    return lines


def _wrapped(cell: str, width: int) -> list[str]:
    if wide(cell) <= width:
        return [cell]
    if all(wide(character) == 1 for character in cell):  # the sum alone may hide a wide one beside one of no width
        return textwrap.wrap(cell, width, break_on_hyphens=False) or [""]
    lines = [""]
    for character in cell:  # what wraps words counts characters, and these take more or fewer columns
        if wide(lines[-1] + character) > width:
            lines.append("")
        lines[-1] += character
    return lines


def _padded(column: Column, text: str, width: int) -> str:
    space = " " * (width - wide(text))
    return text + space if column.left else space + text


def labelled(pairs: Sequence[tuple[str, str]], width: int) -> list[str]:
    """Set values beside their labels, wrapped under themselves."""
    indent = max((wide(label) for label, _ in pairs), default=0) + len(GAP)
    lines = []
    for label, value in pairs:
        first = label + " " * (indent - wide(label))
        wrapped = textwrap.wrap(
            safe(value), width, initial_indent=first, subsequent_indent=" " * indent, break_on_hyphens=False
        )
        lines += wrapped or [label]
    return lines
