"""
The only way to a drawing on the terminal. Nothing reaches the canvas that it cannot bear: values that are not finite
are dropped, values beyond the axes are clipped to them, and a step curve is thinned to two points a column.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from rich.text import Text

from regdash.charts.canvas import FINE, NO_COLOUR, Canvas, places
from regdash.charts.scale import Axis

__all__ = ["FINE", "Drawing", "Stroke", "draw", "stairs"]

# Places in a terminal's own palette.
COLOURS = {
    "red": 1,
    "green": 2,
    "yellow": 3,
    "magenta": 5,
    "cyan": 6,
    "white": 7,
    "bright_green": 10,
    "bright_blue": 12,
}
AXIS_LINES = 2  # under the canvas: the axis and its labels
SMALLEST = (16, 4)  # columns and lines below which there is no room for axes


@dataclass(frozen=True)
class Stroke:
    """Points to draw: joined to a line, or standing alone. `marker` is one character, or FINE."""

    x: Sequence[float]
    y: Sequence[float]
    marker: str
    colour: str = "default"
    joined: bool = True


@dataclass(frozen=True, eq=False)
class Drawing:
    """A finished chart: lines of equal width, and where its axes lie in them."""

    lines: tuple[Text, ...]
    first_column: int  # column of the smallest x
    last_column: int  # column of the largest x
    canvas_lines: int  # lines from the top that hold curves; the axis follows

    def column(self, x: float, axis: Axis) -> int:
        """The column that an x falls in."""
        share = (x - axis.low) / (axis.high - axis.low)
        return self.first_column + round(share * (self.last_column - self.first_column))

    def line(self, y: float, axis: Axis) -> int:
        """The line that a y falls in, from the top."""
        share = (min(max(y, axis.low), axis.high) - axis.low) / (axis.high - axis.low)
        return (self.canvas_lines - 1) - round(share * (self.canvas_lines - 1))


def stairs(x: np.ndarray, y: np.ndarray, axis: Axis, columns: int, last: float = math.inf) -> tuple[list, list]:
    """
    Read a step function at two places a column, from its first x to `last`.

    Args:
        x: (k,) increasing; each value holds from its x until the next.
        y: (k,) values; where one is not finite nothing is drawn.

    >>> stairs(np.array([0.0, 5.0]), np.array([1.0, 2.0]), Axis(0, 10, ()), 2)
    ([0.0, 3.333, 6.667, 10.0], [1.0, 1.0, 2.0, 2.0])
    """
    places = np.linspace(axis.low, axis.high, max(columns, 1) * 2)
    at = np.searchsorted(x, places, side="right") - 1
    there = (at >= 0) & (places <= last + 1e-9)
    values = np.asarray(y, float)[at[there]] if len(x) else np.empty(0)
    kept = np.isfinite(values)
    return [round(float(v), 3) for v in places[there][: len(values)][kept]], values[kept].tolist()


def draw(strokes: Sequence[Stroke], x_axis: Axis, y_axis: Axis, width: int, height: int) -> Drawing:
    """Draw strokes, the earlier ones underneath. The result has exactly `height` lines of `width` columns."""
    if width < SMALLEST[0] or height < SMALLEST[1]:
        return Drawing(tuple(Text(" " * max(width, 0)) for _ in range(max(height, 0))), 0, max(width - 1, 0), 1)
    left = max((len(label) for _, label in y_axis.ticks), default=0)
    canvas = Canvas(width, height)
    inner = canvas.area(left + 1, AXIS_LINES)
    _write_axes(canvas, inner, x_axis, y_axis, left)
    for stroke in strokes:
        x, y = _bearable(stroke, x_axis, y_axis)
        if len(x):
            inner.draw(x, y, stroke.marker, COLOURS.get(stroke.colour, NO_COLOUR), stroke.joined)
    return Drawing(canvas.lines(), left + 1, width - 1, height - AXIS_LINES)


def _write_axes(canvas: Canvas, inner: Canvas, x_axis: Axis, y_axis: Axis, left: int) -> None:
    """Write an axis to the left and one below, with those of their labels that there is room for."""
    lines, columns = inner.signs.shape
    marked = {_place(y, y_axis, lines): label for y, label in y_axis.ticks}
    for line in range(lines):
        canvas.write(0, line + AXIS_LINES, marked.get(line, "").rjust(left) + ("┤" if line in marked else "│"))
    canvas.write(left, AXIS_LINES - 1, "└" + "─" * columns)
    for x, label in x_axis.ticks:
        column = left + 1 + _place(x, x_axis, columns)
        if (first := _room_for(label, column, "".join(canvas.signs[0]))) is not None:
            canvas.write(first, 0, label)
            canvas.write(column, AXIS_LINES - 1, "┬")


def _place(value: float, axis: Axis, count: int) -> int:
    return int(places(np.array([(value - axis.low) / (axis.high - axis.low)]), count)[0])


def _room_for(label: str, column: int, line: str) -> int | None:
    """Find where a label of a column may begin on a line, in the middle of what is free; None where nothing is."""
    longest = len(label)
    free = [n for n in range(max(column - longest + 1, 0), min(column + longest, len(line) - 1)) if line[n] == " "]
    first, last = (free[0], free[-1]) if free else (column - longest + 1, column + longest)
    at = (first + last + 1 - longest) // 2
    around = line[max(at - 1, 0) : at + longest + 1]
    return at if at >= 0 and at + longest <= len(line) and not around.strip() else None


def _bearable(stroke: Stroke, x_axis: Axis, y_axis: Axis) -> tuple[np.ndarray, np.ndarray]:
    """Keep what is finite and inside the x axis, clipped to the y axis; as shares of the axes."""
    count = min(len(stroke.x), len(stroke.y))
    x, y = (np.asarray(values[:count], float) for values in (stroke.x, stroke.y))
    kept = np.isfinite(x) & np.isfinite(y) & (x >= x_axis.low) & (x <= x_axis.high)
    x, y = x[kept], np.clip(y[kept], y_axis.low, y_axis.high)
    return (x - x_axis.low) / (x_axis.high - x_axis.low), (y - y_axis.low) / (y_axis.high - y_axis.low)
