"""
The only file that calls plotext. Nothing reaches it that it cannot bear: values that are not finite are dropped,
values beyond the axes are clipped to them, and a step curve is thinned to two points a column.

plotext keeps one figure for the whole process, so all drawing is done on one thread.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from rich.text import Text

from regdash.charts.scale import Axis

FINE = "braille"  # the marker that draws a line in dots, two a column
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
    import plotext

    plotext.clear_figure()
    plotext.theme("clear")
    plotext.limit_size(False, False)
    plotext.plotsize(width, height)
    plotext.xaxes(True, False)
    plotext.yaxes(True, False)
    for axis, limit, ticks in ((x_axis, plotext.xlim, plotext.xticks), (y_axis, plotext.ylim, plotext.yticks)):
        limit(axis.low, axis.high)
        ticks([place for place, _ in axis.ticks], [label for _, label in axis.ticks])
    # A blank point in the corner: without any point plotext leaves the axes out.
    for stroke in (Stroke([x_axis.low], [y_axis.low], " ", joined=False), *strokes):
        x, y = _bearable(stroke, x_axis, y_axis)
        if x:
            put = plotext.plot if stroke.joined else plotext.scatter
            put(x, y, marker=stroke.marker, color=COLOURS.get(stroke.colour, "default"))
    return _measured(Text.from_ansi(plotext.build()), width, height)


def _bearable(stroke: Stroke, x_axis: Axis, y_axis: Axis) -> tuple[list[float], list[float]]:
    """Keep what is finite and inside the x axis, clipped to the y axis."""
    points = [
        (float(x), min(max(float(y), y_axis.low), y_axis.high))
        for x, y in zip(stroke.x, stroke.y)
        if math.isfinite(x) and math.isfinite(y) and x_axis.low <= x <= x_axis.high
    ]
    return [x for x, _ in points], [y for _, y in points]


def _measured(text: Text, width: int, height: int) -> Drawing:
    lines = list(text.split("\n", allow_blank=True))[:height]
    lines += [Text()] * (height - len(lines))
    for line in lines:
        line.truncate(width, pad=True)
    axis = lines[height - 2].plain
    return Drawing(tuple(lines), axis.find("└") + 1, max(len(axis.rstrip()) - 1, 1), height - 2)
