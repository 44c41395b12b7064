"""
A grid of signs to draw on: lines of fine dots, eight in a sign of braille, or of one sign a place.

Its rows count from the bottom, as y axes do. What is drawn later lies on what was drawn before.
"""

from itertools import pairwise

import numpy as np
from rich.color import Color
from rich.style import Style
from rich.text import Text

FINE = "braille"  # the marker that draws in dots, two columns and four lines of them a sign
NO_COLOUR = -1
# What each dot adds to the first sign of braille, by its line from the bottom and its column (The Unicode Standard,
# 21.1): dots 1, 2, 3 and 7 stand on the left from the top, 4, 5, 6 and 8 on the right.
FIRST_SIGN = 0x2800
DOTS = np.array([[0x40, 0x80], [0x04, 0x20], [0x02, 0x10], [0x01, 0x08]])
WIDE, HIGH = 2, 4


class Canvas:
    """Signs and their colours, places in a terminal's palette or NO_COLOUR."""

    def __init__(self, columns: int, lines: int) -> None:
        self.signs = np.full((lines, columns), " ", dtype="U1")
        self.colours = np.full((lines, columns), NO_COLOUR)

    def write(self, column: int, line: int, text: str) -> None:
        """Write a text, in no colour; what has no room is cut."""
        room = self.signs[line, column : column + len(text)]
        room[:] = list(text[: len(room)])

    def area(self, first_column: int, first_line: int) -> "Canvas":
        """The part to the right of a column and above a line; what is drawn there is drawn here."""
        part = Canvas(0, 0)
        part.signs = self.signs[first_line:, first_column:]
        part.colours = self.colours[first_line:, first_column:]
        return part

    def draw(self, x: np.ndarray, y: np.ndarray, marker: str, colour: int, joined: bool) -> None:
        """
        Draw points, or lines from each to the next.

        Args:
            x: (k,) shares of the width, from 0 in the first column to 1 in the last.
            y: (k,) shares of the height, from the bottom.
            marker: FINE, or one sign.
        """
        wide, high = (WIDE, HIGH) if marker == FINE else (1, 1)
        columns, lines = (places(x, self.signs.shape[1] * wide), places(y, self.signs.shape[0] * high))
        if joined:
            columns, lines = _lines_between(columns, lines)
        at = lines // high, columns // wide
        if marker == FINE:
            dots = np.zeros(self.signs.shape, dtype=np.uint32)
            np.bitwise_or.at(dots, at, DOTS[lines % high, columns % wide].astype(np.uint32))
            drawn = dots > 0
            self.signs[drawn], self.colours[drawn] = (FIRST_SIGN + dots[drawn]).view("U1"), colour
        else:
            self.signs[at], self.colours[at] = marker, colour

    def lines(self) -> tuple[Text, ...]:
        """Give it as text, from the top."""
        return tuple(_line(signs, colours) for signs, colours in zip(self.signs[::-1], self.colours[::-1]))


def places(shares: np.ndarray, count: int) -> np.ndarray:
    """
    Find the nearest of so many places from 0 to 1.

    >>> places(np.array([0.0, 0.49, 0.51, 1.0]), 3).tolist()
    [0, 1, 1, 2]
    """
    almost = 5e-9  # a half that arithmetic has made a little less is a half
    return np.floor(0.5 + (count - 1) * np.asarray(shares, float) + almost).astype(np.int64)


def _lines_between(x: np.ndarray, y: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Fill in the places between each point and the next, one a step of the longer way."""
    wide, high = np.diff(x), np.diff(y)
    steps = np.maximum(np.abs(wide), np.abs(high))
    step = np.arange(steps.sum()) - np.repeat(np.cumsum(steps) - steps, steps)
    each = np.maximum(steps, 1)

    def filled(first: np.ndarray, way: np.ndarray) -> np.ndarray:
        between = np.repeat(first[:-1], steps) + step * np.repeat(way / each, steps)
        return np.append(between.astype(np.int64), first[-1:])

    return filled(x, wide), filled(y, high)


def _line(signs: np.ndarray, colours: np.ndarray) -> Text:
    text = Text()
    ends = [0, *(np.flatnonzero(np.diff(colours)) + 1).tolist(), len(signs)]
    for first, last in pairwise(ends):
        colour = int(colours[first]) if first < last else NO_COLOUR
        style = None if colour == NO_COLOUR else Style.from_color(Color.from_ansi(colour))
        text.append("".join(signs[first:last].tolist()), style)
    return text
