"""Estimates with limits, a line each: bars from 0, marks, or ratios on a logarithmic axis around 1."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from regdash.charts.scale import Axis
from regdash.figures.axes import plain_axis, ratio_axis
from regdash.figures.drawing import WIDTH, Drawing, Picture, shortened
from regdash.figures.style import AXIS, GRID, SERIES, SMALL, ZERO

LEFT, RIGHT, TOP = 214.0, 176.0, 12.0
ROW, APART, CLOSE = 16.0, 8.0, 1.0
BARS, MARKS, RATIOS = "bars", "marks", "ratios"


@dataclass(frozen=True)
class Interval:
    """One estimate; None where it is withheld, which `written` then says."""

    label: str  # of its line; lines of one label stand together
    series: int  # 0 for the first group and so on
    estimate: float | None
    lower: float | None
    upper: float | None
    written: str  # the estimate with its limits, as in the table


def interval_figure(
    rows: Sequence[Interval],
    groups: Sequence[str],
    axis_title: str,
    kind: str = MARKS,
    scale: float = 1.0,
    beside: float | None = None,
) -> Picture:
    """
    Draw estimates with their limits.

    Args:
        groups: names of the series, for the key; one alone needs none.
        kind: BARS from 0, MARKS, or RATIOS.
        scale: of the labels on the axis; 100 where estimates are proportions and the axis is in per cent.
        beside: a figure that all are read beside, drawn as a line through them.
    """
    found = [v for row in rows for v in (row.estimate, row.lower, row.upper) if v is not None]
    found += [] if beside is None else [beside]
    axis = ratio_axis(found) if kind == RATIOS else plain_axis(found, scale)
    key = ROW * math.ceil(len(groups) / 3) + 8 if len(groups) > 1 else 0.0
    labels = {row.label for row in rows}
    apart = APART if len(groups) > 1 else CLOSE
    height = TOP + key + ROW * len(rows) + apart * len(labels)
    drawing = Drawing(height + 44)
    _key(drawing, groups)
    _axis(drawing, axis, TOP + key, height, axis_title, kind)
    if beside is not None:
        drawing.line((_x(axis, kind, beside), TOP + key), (_x(axis, kind, beside), height), ZERO)
    y, last = TOP + key, None
    for row in rows:
        if row.label != last:
            y += apart
            drawing.text(LEFT - 10, y + 12, shortened(row.label, 32), SMALL, "end")
            last = row.label
        _row(drawing, row, y + ROW / 2, axis, kind)
        y += ROW
    return drawing.done()


def _x(axis: Axis, kind: str, value: float) -> float:
    at = math.log(max(value, 1e-9)) if kind == RATIOS else value
    share = (min(max(at, axis.low), axis.high) - axis.low) / (axis.high - axis.low)
    return LEFT + (WIDTH - LEFT - RIGHT) * share


def _key(drawing: Drawing, groups: Sequence[str]) -> None:
    if len(groups) < 2:
        return
    for n, name in enumerate(groups):
        x, y = 24 + 230.0 * (n % 3), TOP + 6 + ROW * (n // 3)
        drawing.mark(x, y - 4, n)
        drawing.text(x + 11, y, shortened(name, 28), SMALL)


def _axis(drawing: Drawing, axis: Axis, top: float, bottom: float, title: str, kind: str) -> None:
    places = [
        (LEFT + (WIDTH - LEFT - RIGHT) * (at - axis.low) / (axis.high - axis.low), text) for at, text in axis.ticks
    ]
    for x, text in places:
        drawing.line((x, top), (x, bottom + 4), GRID)
        drawing.text(x, bottom + 18, text, SMALL, "middle")
    drawing.line((LEFT, bottom), (WIDTH - RIGHT, bottom), AXIS)
    zero = _x(axis, kind, 1.0 if kind == RATIOS else 0.0)
    drawing.line((zero, top), (zero, bottom), ZERO)
    drawing.text((LEFT + WIDTH - RIGHT) / 2, bottom + 36, title, SMALL, "middle")


def _row(drawing: Drawing, row: Interval, y: float, axis: Axis, kind: str) -> None:
    """Draw one estimate, and write its figures at the end of the line."""
    series = row.series % SERIES
    drawing.text(WIDTH - RIGHT + 12, y + 4, row.written, SMALL)
    if row.estimate is None:
        return
    x = _x(axis, kind, row.estimate)
    if kind == BARS:
        zero = _x(axis, kind, 0.0)
        drawing.box(min(x, zero), y - 4.5, abs(x - zero), 9, f"a{series}")
    if row.lower is not None and row.upper is not None:
        ends = [_x(axis, kind, limit) for limit in (row.lower, row.upper)]
        drawing.line((ends[0], y), (ends[1], y), f"w{series}")
        for end in ends:
            drawing.line((end, y - 3.5), (end, y + 3.5), f"w{series}")
    drawing.mark(x, y, series, 3.6)
