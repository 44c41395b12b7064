"""
Cumulative incidence by reason, one on the other, so that the top is that of all reasons together.

Each layer is filled with its letter, so that it is told from the next without colour; the commonest reason lies at the
bottom. A layer thinner than half a line may show nowhere: its value stands beside its name.
"""

from collections.abc import Sequence

import numpy as np
from rich.text import Text

from regdash.charts.gateway import Drawing, draw
from regdash.charts.scale import Axis, percent_axis, year_axis
from regdash.charts.step import (
    AXIS_LINES,
    COLOURS,
    FEWEST_CANVAS_LINES,
    LETTERS,
    MOST_CURVES,
    SMALLEST_WIDTH,
    Counted,
    Named,
    at_risk_lines,
    margin_for,
    stand_line,
    write_names,
)
from regdash.reports.model import Curve, ReasonsReport

OTHERS = "+"  # the letter of the reasons that have none of their own


def stacked_chart(
    report: ReasonsReport, group: str, width: int, height: int, focus: str | None = None, at: float | None = None
) -> Text:
    """
    Draw the incidences of a group's reasons one on the other, with joints at risk under them.

    Args:
        focus: the reason whose name stands out.
        at: years at which a line stands; the names beside the chart then give the values there.
    """
    curves = next((curves for name, curves in report.curves if name == group), ())
    if width < SMALLEST_WIDTH or height < FEWEST_CANVAS_LINES or not curves:
        return Text("\n".join(" " * width for _ in range(height)), no_wrap=True)
    named = [Named(curve, letter, colour, report.years, at) for curve, letter, colour in zip(curves, LETTERS, COLOURS)]
    counted = [Counted(group, "", dict(curves[0].at_risk))]
    margin = margin_for(named, width)
    chart_height = height - len(counted) - 1
    x_axis = year_axis(report.years, width - margin - 4)
    tops = _tops(curves, np.array([report.years]), report.years)[:, 0]
    y_axis = percent_axis(float(tops[-1]) or 0.01, chart_height - AXIS_LINES)
    drawing = draw((), x_axis, y_axis, width - margin, chart_height)
    lines = [line.copy() for line in drawing.lines]
    _fill(lines, curves, report.years, drawing, x_axis, y_axis)
    if at is not None:
        stand_line(lines, drawing.column(at, x_axis), drawing.canvas_lines)
    middles = (np.concatenate([[0.0], tops[:-1]]) + tops) / 2
    write_names(lines, named, middles[: len(named)].tolist(), drawing, y_axis, margin, focus)
    lines[drawing.canvas_lines + 1].append("  years")
    lines += at_risk_lines(counted, drawing, x_axis, width)
    for line in lines:
        line.truncate(width, pad=True)
    return Text("\n", no_wrap=True).join(lines[:height])


def _tops(curves: Sequence[Curve], years: np.ndarray, horizon: float) -> np.ndarray:
    """
    Add the incidences up, reason on reason; each stays at its last value past the end of its curve.

    Args:
        years: (m,) times.

    Returns:
        (reasons, m) proportions.
    """
    values = []
    for curve in curves:
        one = Named(curve, "", "", horizon)
        at = np.searchsorted(one.years, np.minimum(years, one.last), side="right") - 1
        values.append(np.nan_to_num(np.asarray(curve.estimate, float))[np.clip(at, 0, None)])
    return np.cumsum(values, axis=0)


def _fill(
    lines: list[Text], curves: Sequence[Curve], horizon: float, drawing: Drawing, x_axis: Axis, y_axis: Axis
) -> None:
    """Fill each layer with its letter, up to where the curves end."""
    columns = np.arange(drawing.first_column, drawing.last_column + 1)
    years = x_axis.low + (columns - drawing.first_column) / max(1, len(columns) - 1) * (x_axis.high - x_axis.low)
    end = max(Named(curve, "", "", horizon).last for curve in curves)
    tops = _tops(curves, years, horizon)
    for line in range(drawing.canvas_lines):
        level = (drawing.canvas_lines - 1 - line) / max(1, drawing.canvas_lines - 1) * y_axis.high
        row = lines[line]
        cells = row[: drawing.first_column]
        for n, year in enumerate(years):
            layer = int(np.searchsorted(tops[:, n], level, side="right"))
            if layer >= len(tops) or year > end + 1e-9:
                cells.append_text(row[int(columns[n]) : int(columns[n]) + 1])
            elif layer < MOST_CURVES:
                cells.append(LETTERS[layer], style=COLOURS[layer])
            else:
                cells.append(OTHERS)
        lines[line] = cells.append_text(row[int(columns[-1]) + 1 :])
