"""Risk over time: step curves with their limits, named at their ends, and joints at risk under the axis."""

from collections.abc import Sequence

import numpy as np

from regdash.charts.scale import Axis, percent_axis, year_axis
from regdash.figures.drawing import WIDTH, Drawing, Picture, Point, shortened
from regdash.figures.style import AXIS, BOLD, GRID, SERIES, SMALL
from regdash.reports.model import Curve
from regdash.stats.years import DAYS_PER_YEAR

LEFT, RIGHT, TOP, HEIGHT = 56.0, 150.0, 26.0, 260.0
ROW = 17.0
COLUMNS = 80  # for the number of labels on the axis of years


def step_figure(curves: Sequence[Curve], horizon: float) -> Picture:
    """
    Draw risk curves up to a horizon in years.

    Args:
        curves: those beyond the number of series are left out, as are empty ones; each ends where it may no longer be
            drawn.
    """
    curves = [curve for curve in curves if len(curve.days)][:SERIES]
    largest = max((_highest(curve, horizon) for curve in curves), default=0.01)
    across, up = year_axis(horizon, COLUMNS), percent_axis(largest, 10)
    drawing = Drawing(TOP + HEIGHT + 62 + ROW * (len(curves) + 1))
    place = _Place(across, up)
    _axes(drawing, place)
    ends = []
    for n, curve in enumerate(curves):
        points, lower, upper = _steps(curve, horizon, place)
        drawing.path([*upper, *reversed(lower)], f"a{n}", closed=True)
        drawing.path(points, f"s{n}")
        drawing.mark(*points[-1], n)
        ends.append((points[-1][1], n, curve.group))
    _names(drawing, ends)
    _at_risk(drawing, curves, across, place)
    return drawing.done()


class _Place:
    """Years and proportions → places on the page."""

    def __init__(self, across: Axis, up: Axis) -> None:
        self.across, self.up = across, up

    def x(self, years: float) -> float:
        return LEFT + (WIDTH - LEFT - RIGHT) * years / self.across.high

    def y(self, proportion: float) -> float:
        return TOP + HEIGHT * (1 - min(max(proportion, 0.0), self.up.high) / self.up.high)


def _highest(curve: Curve, horizon: float) -> float:
    shown = curve.days <= min(curve.last_day, horizon * DAYS_PER_YEAR)
    limits = np.nan_to_num(curve.upper[shown], nan=0.0)
    return float(max(curve.estimate[shown].max(initial=0.0) * 1.15, np.quantile(limits, 0.98) if len(limits) else 0.0))


def _axes(drawing: Drawing, place: _Place) -> None:
    right, bottom = place.x(place.across.high), place.y(0)
    for value, label in place.up.ticks:
        drawing.line((LEFT, place.y(value)), (right, place.y(value)), GRID)
        drawing.text(LEFT - 7, place.y(value) + 4.5, label, SMALL, "end")
    drawing.line((LEFT, bottom), (right, bottom), AXIS)
    for value, label in place.across.ticks:
        drawing.line((place.x(value), bottom), (place.x(value), bottom + 4), AXIS)
        drawing.text(place.x(value), bottom + 18, label, SMALL, "middle")
    drawing.text((LEFT + right) / 2, bottom + 36, "years since the primary", SMALL, "middle")
    drawing.text(LEFT - 40, TOP - 12, "revised, %", SMALL)


def _steps(curve: Curve, horizon: float, place: _Place) -> tuple[list[Point], list[Point], list[Point]]:
    last = min(curve.last_day, horizon * DAYS_PER_YEAR)
    shown = curve.days <= last
    years = np.append(curve.days[shown] / DAYS_PER_YEAR, last / DAYS_PER_YEAR)
    drawn = [_stairs(years, values[shown], place) for values in (curve.estimate, curve.lower, curve.upper)]
    return drawn[0], drawn[1], drawn[2]


def _stairs(years: np.ndarray, values: np.ndarray, place: _Place) -> list[Point]:
    """Each value holds until the next day; steps too small to be seen are joined, so that files stay small."""
    points: list[Point] = []
    at = None
    for n, value in enumerate(values.tolist()):
        y = place.y(value if np.isfinite(value) else 0.0)
        if at is None or abs(y - at) >= 0.15:
            x = place.x(float(years[n]))
            points += [(x, y)] if at is None else [(x, at), (x, y)]
            at = y
    return [*points, (place.x(float(years[-1])), at)] if at is not None else points


def _names(drawing: Drawing, ends: list[tuple[float, int, str]]) -> None:
    """Name curves beside their ends, pushed apart where they meet."""
    x, lowest = WIDTH - RIGHT + 12, -1e9
    placed = []
    for y, n, name in sorted(ends):
        lowest = max(y, lowest + 17)
        placed.append((lowest, n, name))
    over = max((y for y, _, _ in placed), default=0.0) - (TOP + HEIGHT)
    for y, n, name in placed:
        y -= max(over, 0.0)
        drawing.mark(x + 4, y, n)
        drawing.text(x + 14, y + 4.5, shortened(name, 19), SMALL)


def _at_risk(drawing: Drawing, curves: Sequence[Curve], across: Axis, place: _Place) -> None:
    top = place.y(0) + 58
    drawing.text(4, top, "joints at risk", BOLD + " n")
    for n, curve in enumerate(curves):
        y = top + ROW * (n + 1)
        drawing.mark(10, y - 4, n)
        drawing.text(WIDTH - RIGHT + 26, y, shortened(curve.group, 19), SMALL)
        counts = dict(curve.at_risk)
        for value, _ in across.ticks:
            if (there := counts.get(value)) is not None:
                drawing.text(place.x(value), y, f"{there:,}", SMALL, "middle")
