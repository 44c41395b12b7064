"""
Small multiples: a panel for each group, all on one scale of risk and of years, so that heights compare across panels.

Each panel has its curve with limits, its value with limits in its heading, and its joints at risk.
"""

import math

from rich.text import Text

from regdash.charts.gateway import draw
from regdash.charts.scale import Axis, day_axis, percent_axis, year_axis
from regdash.charts.step import (
    AXIS_LINES,
    COLOURS,
    FEWEST_CANVAS_LINES,
    LETTERS,
    SMALLEST_WIDTH,
    Counted,
    Followed,
    Named,
    at_risk_lines,
    in_view,
    largest_of,
    stand_line,
    strokes_of,
)

NARROWEST = 36  # columns of a panel
LOWEST = 8  # lines of a panel
WITH_COUNTS = 10  # lines from which a panel has its joints at risk
BESIDE = 5  # columns right of a panel's axis, for half of its last count and the gap to the next


def panels_chart(
    report: Followed,
    width: int,
    height: int,
    focus: str | None = None,
    at: float | None = None,
    days: bool = False,
    what: str = "joints",
) -> Text:
    """
    Draw the curves of a report, each in a panel of its own; those that do not fit are the last of its page.

    Args:
        report: its last time is the right end of every axis.
        focus: the group whose heading stands out; it is always among those drawn.
        at: years at which a line stands; headings then give the values there.
        days, what: as `step.risk_chart`; panels have no room to say what is at risk.
    """
    if width < SMALLEST_WIDTH or height < FEWEST_CANVAS_LINES + AXIS_LINES:
        return Text("\n".join(" " * width for _ in range(height)), no_wrap=True)
    horizon = report.years[-1]
    groups = [curve.group for curve in report.curves]
    named = [Named(report.curves[i], LETTERS[n], COLOURS[n], horizon, at) for n, i in enumerate(in_view(groups, focus))]
    across, down = _grid(len(named), width, height)
    y_axis = percent_axis(largest_of(named), height // down - 1 - AXIS_LINES)  # of all, also of those left out
    shown = _around(named, focus, across * down)
    rows: list[Text] = []
    for first in range(0, len(shown), across):
        panels = [
            _panel(one, width // across, height // down, y_axis, focus, at, days)
            for one in shown[first : first + across]
        ]
        if first + across >= len(shown) and len(shown) < len(named):
            rest = f" +{len(named) - len(shown)} more "
            panels[-1][0].rstrip()
            panels[-1][0].truncate(width // across - len(rest), overflow="ellipsis", pad=True)
            panels[-1][0].append(rest)
        rows += [Text.assemble(*line) for line in zip(*panels)]
    rows += [Text()] * (height - len(rows))
    for row in rows:
        row.truncate(width, pad=True)
    return Text("\n", no_wrap=True).join(rows[:height])


def _grid(count: int, width: int, height: int) -> tuple[int, int]:
    """
    How many panels stand side by side, and how many rows of them there are.

    >>> _grid(6, 160, 40), _grid(3, 80, 16), _grid(1, 80, 16), _grid(8, 80, 10)
    ((3, 2), (2, 2), (1, 1), (2, 1))
    """
    most_across, most_down = max(1, width // NARROWEST), max(1, height // LOWEST)
    down = min(most_down, max(1, math.ceil(count / most_across)))
    across = max(1, min(most_across, math.ceil(count / down)))
    return across, max(1, min(down, math.ceil(count / across)))


def _around(named: list[Named], focus: str | None, most: int) -> list[Named]:
    """The panels that fit: the first ones, or those up to the one in focus."""
    at = next((n for n, one in enumerate(named) if one.curve.group == focus), 0)
    first = max(0, at - most + 1)
    return named[first : first + most]


def _panel(
    one: Named, width: int, height: int, y_axis: Axis, focus: str | None, at: float | None, days: bool
) -> list[Text]:
    """Draw one panel, `height` lines of `width` columns."""
    counted = [Counted("", one.colour, dict(one.curve.at_risk))] if height >= WITH_COUNTS else []
    inner = width - BESIDE
    x_axis = (day_axis if days else year_axis)(one.horizon, inner - 4)
    drawing = draw(strokes_of([one], x_axis, y_axis, inner, focus), x_axis, y_axis, inner, height - 1 - len(counted))
    lines = [line.copy() for line in drawing.lines]
    if at is not None:
        stand_line(lines, drawing.column(at, x_axis), drawing.canvas_lines)
    # The last line alone: the one before says what it is, which the heading of the place does for all panels.
    lines += at_risk_lines(counted, drawing, x_axis, width)[-1:]
    years = lines[drawing.canvas_lines + 1]
    years.rstrip()
    years.append(" d" if days else " y")
    heading = Text(_heading(one), style=f"{one.colour} bold" if one.curve.group == focus else one.colour)
    lines.insert(0, heading)
    for line in lines:
        line.truncate(width - 1, overflow="ellipsis", pad=True)
        line.append(" ")
    return lines[:height]


def _heading(one: Named) -> str:
    values = (one.curve.estimate, one.curve.lower, one.curve.upper)
    estimate, lower, upper = (one.value(each, one.read_at) for each in values)
    if estimate is None:
        return f"{one.letter} {one.curve.group}: {'too few' if one.read_at is None else 'not reached'}"
    limits = "" if lower is None or upper is None else f" ({100 * lower:.1f} to {100 * upper:.1f})"
    until = f" at {one.last:.1f} y" if one.read_at is None and one.last < one.horizon - 0.01 else ""
    return f"{one.letter} {one.curve.group} {100 * estimate:.1f}{limits}{until}"
