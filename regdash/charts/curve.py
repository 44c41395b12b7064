"""The hazard ratio along a field of numbers, on a log axis with a line at 1 and pointwise limits."""

import numpy as np
from rich.text import Text

from regdash.charts.gateway import FINE, Drawing, Stroke, draw
from regdash.charts.ratios import ratio_axis
from regdash.charts.scale import Axis
from regdash.charts.step import AXIS_LINES, FEWEST_CANVAS_LINES, SMALLEST_WIDTH, stand_line
from regdash.reports.smooth_model import SmoothReport

COLOUR = "cyan"
MARGIN = 12  # columns beside the chart, for the name of its axis
DWARFS = 1.5  # how far the axis goes beyond the curve for its limits
LABEL_ROOM = 3  # columns between two labels of the axis


def smooth_chart(report: SmoothReport, width: int, height: int, at: float | None = None) -> Text:
    """
    Draw the curve of a report in `height` lines of `width` columns; none where it is withheld.

    Args:
        at: the value at which a line stands, to read the curve by.
    """
    if width < SMALLEST_WIDTH or height < FEWEST_CANVAS_LINES or not len(report.curve.values):
        return Text("\n".join(" " * width for _ in range(height)), no_wrap=True)
    curve = report.curve
    x = report.over.scaled(curve.values)
    x_axis, y_axis = Axis(float(x[0]), float(x[-1]), ()), _ratios(report, height - AXIS_LINES)
    columns = width - MARGIN
    x_axis = Axis(x_axis.low, x_axis.high, _ticks(report, x_axis, columns))
    drawing = draw(_strokes(report, x, x_axis, y_axis, columns), x_axis, y_axis, columns, height)
    lines = [line.copy() for line in drawing.lines]
    if at is not None:
        stand_line(lines, drawing.column(float(report.over.scaled(np.array([at]))[0]), x_axis), drawing.canvas_lines)
    lines[drawing.canvas_lines + 1].append(f"  {report.over.field.key}")
    _name_the_line(lines, drawing, y_axis)
    for line in lines:
        line.truncate(width, pad=True)
    return Text("\n", no_wrap=True).join(lines[:height])


def _ratios(report: SmoothReport, lines: int) -> Axis:
    """A log axis that holds the curve, and its limits as far as they do not dwarf it."""
    curve = report.curve
    low, high = min(float(curve.ratio.min()), 1.0), max(float(curve.ratio.max()), 1.0)
    lower, upper = float(np.nanmin(curve.lower)), float(np.nanmax(curve.upper))
    axis = ratio_axis([(low, max(lower, low / DWARFS), min(upper, high * DWARFS))])
    every = -(-len(axis.ticks) // max(lines // 2, 2))
    place = next((n for n, (value, _) in enumerate(axis.ticks) if value == axis.middle), 0)
    ticks = tuple(tick for n, tick in enumerate(axis.ticks) if (n - place) % every == 0)
    return Axis(axis.low, axis.high, ticks)


def _ticks(report: SmoothReport, axis: Axis, columns: int) -> tuple[tuple[float, str], ...]:
    """Label the values of the table, those that would touch left out."""
    found: list[tuple[float, str]] = []
    free = -1.0
    for row in report.rows:
        if row.value is None or not report.low <= row.value <= report.high:
            continue
        at, label = float(report.over.scaled(np.array([row.value]))[0]), f"{row.value:g}"
        column = (at - axis.low) / (axis.high - axis.low) * (columns - LABEL_ROOM * 2)
        if column - len(label) / 2 >= free:
            found.append((at, label))
            free = column + len(label) / 2 + LABEL_ROOM
    return tuple(found)


def _strokes(report: SmoothReport, x: np.ndarray, x_axis: Axis, y_axis: Axis, columns: int) -> list[Stroke]:
    """Draw the line at 1, the limits as dots and the curve over them; a limit beyond the axis is left out."""
    curve = report.curve
    fine, coarse = (np.linspace(x_axis.low, x_axis.high, max(n, 2)) for n in (columns * 2, columns // 2))
    limits = [np.interp(coarse, x, np.log(values)) for values in (curve.lower, curve.upper)]
    strokes = [Stroke(coarse.tolist(), [0.0] * len(coarse), "─", joined=False)]
    for values in limits:
        inside = np.where((values >= y_axis.low) & (values <= y_axis.high), values, np.nan)
        strokes.append(Stroke(coarse.tolist(), inside.tolist(), "·", COLOUR, joined=False))
    return [*strokes, Stroke(fine.tolist(), np.interp(fine, x, np.log(curve.ratio)).tolist(), FINE, COLOUR)]


def _name_the_line(lines: list[Text], drawing: Drawing, y_axis: Axis) -> None:
    """Say beside the line at 1 what it is."""
    lines[drawing.line(0.0, y_axis)].append(" ratio 1", style="dim")
