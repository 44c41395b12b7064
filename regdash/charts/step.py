"""
Risk curves by group, with limits, their names at their ends, and the joints at risk under the axis.

Each curve has a letter that stands along it, before its name and before its numbers, so colour is never needed.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from rich.text import Text

from regdash.charts.gateway import FINE, Drawing, Stroke, draw, stairs
from regdash.charts.scale import Axis, day_axis, percent_axis, year_axis
from regdash.reports.model import Curve, ReasonsReport
from regdash.stats.years import years_in

LETTERS = "abcdefgh"
COLOURS = ("cyan", "yellow", "magenta", "green", "bright_blue", "red", "white", "bright_green")
MOST_CURVES = len(LETTERS)
MOST_WITH_LIMITS = 3  # beyond that, limits are drawn for the curve in focus alone
LETTER_EVERY = 18  # columns between a curve's letters
FEWEST_CANVAS_LINES = 6  # below which joints at risk give way to the curves
SMALLEST_WIDTH = 40
SHORTEST_NAME = 8  # columns of a curve's letter and name, below which what stands after its value gives way
SMALL = 0.02  # axes that end here or below have ends with two decimals of per cent
AXIS_LINES = 2
READING = "a  12.34 at 12.5 y"  # what stands around a name where values are read, at its longest


class FollowedRow(Protocol):
    """A figure of a group at a time."""

    @property
    def group(self) -> str: ...
    @property
    def years(self) -> float: ...
    @property
    def at_risk(self) -> int | None: ...


class Followed(Protocol):
    """An answer with a curve for each group: of revision or of death."""

    @property
    def years(self) -> tuple[float, ...]: ...
    @property
    def rows(self) -> Sequence[FollowedRow]: ...
    @property
    def curves(self) -> tuple[Curve, ...]: ...


@dataclass(frozen=True, eq=False)
class Named:
    """A curve as it is drawn: its letter and colour, and its part that lies before the horizon."""

    curve: Curve
    letter: str
    colour: str
    horizon: float
    read_at: float | None = None  # years at which its name gives its value; None: at its end

    @property
    def last(self) -> float:
        """Years up to which it is drawn."""
        return min(self.horizon, years_in(self.curve.last_day))

    @property
    def years(self) -> np.ndarray:
        """(k,) years since implantation of each step."""
        return years_in(np.asarray(self.curve.days))

    def value(self, values: np.ndarray, years: float | None = None) -> float | None:
        """Read one of the curve's arrays at its end, or at some years; None where there is nothing to draw."""
        if years is not None and years > self.last + 1e-9:
            return None
        at = int(np.searchsorted(self.years, self.last if years is None else years, side="right")) - 1
        return float(values[at]) if 0 <= at < len(values) and np.isfinite(values[at]) else None


@dataclass(frozen=True)
class Counted:
    """A line of joints at risk."""

    label: str
    colour: str
    by_year: Mapping[float, int]


def reading(curve: Curve, years: float) -> tuple[float, float | None, float | None] | None:
    """Read a curve at some years: estimate and limits; None past its end."""
    one = Named(curve, "", "", years)
    estimate, lower, upper = (one.value(values, years) for values in (curve.estimate, curve.lower, curve.upper))
    return None if estimate is None else (estimate, lower, upper)


def in_view(groups: Sequence[str], focus: str | None) -> range:
    """Which groups are drawn where there are more than letters: those of the page that the focus is on."""
    at = groups.index(focus) if focus in groups else 0
    first = at // MOST_CURVES * MOST_CURVES
    return range(first, min(first + MOST_CURVES, len(groups)))


def letter_of(groups: Sequence[str], group: str, focus: str | None) -> str:
    """The letter of a group's curve, or a space where it is not drawn."""
    return next((LETTERS[n] for n, i in enumerate(in_view(groups, focus)) if groups[i] == group), " ")


def risk_chart(
    report: Followed,
    width: int,
    height: int,
    focus: str | None = None,
    at: float | None = None,
    days: bool = False,
    what: str = "joints",
) -> Text:
    """
    Draw the curves of a report and those at risk under them, `height` lines of `width` columns.

    Args:
        report: its last time is the right end of the axis; only the groups of the page that `focus` is on are drawn.
        focus: the group whose limits are always drawn.
        at: years at which a line stands, to read values by.
        days: whether the axis names days, where it ends after a year or before.
        what: is at risk.
    """
    counts = {curve.group: dict(curve.at_risk) for curve in report.curves}
    for row in report.rows:
        if row.at_risk is not None:
            counts.setdefault(row.group, {})[row.years] = row.at_risk
    return step_chart(report.curves, report.years[-1], width, height, counts, focus, at, days=days, what=what)


def reasons_chart(
    report: ReasonsReport, group: str, width: int, height: int, focus: str | None = None, at: float | None = None
) -> Text:
    """
    Draw the cumulative incidence of a group's leading reasons through time, over one line of joints at risk.

    Args:
        at: years at which a line stands; the names beside the chart then give the values there.
    """
    curves = next((curves for name, curves in report.curves if name == group), ())
    counts = {group: dict(curves[0].at_risk)} if curves else {}
    return step_chart(curves, report.years, width, height, counts, focus, at, reads=at is not None)


def step_chart(
    curves: Sequence[Curve],
    horizon: float,
    width: int,
    height: int,
    counts: Mapping[str, Mapping[float, int]],
    focus: str | None = None,
    at: float | None = None,
    reads: bool = False,
    days: bool = False,
    what: str = "joints",
) -> Text:
    """
    Draw curves to a horizon in years, with joints at risk under the axis.

    Args:
        counts: joints at risk by name and years; those named as a curve carry its letter.
        reads: whether the names beside the chart give the values at `at`, and not those at the ends.
        days, what: as `risk_chart`.
    """
    if width < SMALLEST_WIDTH or height < FEWEST_CANVAS_LINES:
        return Text("\n".join(" " * width for _ in range(height)), no_wrap=True)
    shown = in_view([curve.group for curve in curves], focus)
    named = [Named(curves[i], LETTERS[n], COLOURS[n], horizon, at if reads else None) for n, i in enumerate(shown)]
    counted = with_counts(named, counts, height, focus)
    margin = margin_for(named, width)
    chart_height = height - len(counted) - bool(counted)
    x_axis = (day_axis if days else year_axis)(horizon, width - margin - 4)
    y_axis = percent_axis(largest_of(named), chart_height - AXIS_LINES)
    strokes = strokes_of(named, x_axis, y_axis, width - margin, focus)
    drawing = draw(strokes, x_axis, y_axis, width - margin, chart_height)
    lines = [line.copy() for line in drawing.lines]
    if at is not None:
        stand_line(lines, drawing.column(at, x_axis), drawing.canvas_lines)
    _name_ends(lines, named, drawing, y_axis, margin, focus)
    lines[drawing.canvas_lines + 1].append("  days" if days else "  years")
    lines += at_risk_lines(counted, drawing, x_axis, width, what)
    for line in lines:
        line.truncate(width, overflow="ellipsis", pad=True)
    return Text("\n", no_wrap=True).join(lines[:height])


def with_counts(
    named: list[Named], counts: Mapping[str, Mapping[float, int]], height: int, focus: str | None
) -> list[Counted]:
    """Say whose joints at risk fit under the axis: everybody's, or the focus's alone."""
    own = {one.curve.group: one for one in named}
    there = [
        Counted(f"{own[name].letter} {name}" if name in own else name, own[name].colour if name in own else "", by_year)
        for name, by_year in counts.items()
        if name in own or len(counts) == 1
    ]
    room = height - AXIS_LINES - 1 - FEWEST_CANVAS_LINES
    if len(there) <= room:
        return there
    return ([one for one in there if one.label.endswith(f" {focus}")] or there)[: 1 if room > -2 else 0]


def margin_for(named: list[Named], width: int) -> int:
    """Columns beside the chart for names and values; the same wherever they are read."""
    read = len(READING) if any(one.read_at is not None for one in named) else 0
    longest = max((len(one.curve.group) + read if read else len(_end_label(one, 2)) for one in named), default=0)
    return max(12, min(longest + 2, width // 3))


def _end_label(one: Named, decimals: int = 1, room: int | None = None) -> str:
    """Name a curve with its value; where the room is short, the name is cut before the value is."""
    value, name = one.value(one.curve.estimate, one.read_at), f"{one.letter} {one.curve.group}"
    until = ""
    if one.read_at is not None:
        said = " not reached" if value is None else f" {100 * value:.{decimals}f} at {one.read_at:g} y"
    elif value is None:
        said = ": too few"
    else:
        said = f" {100 * value:.{decimals}f}"
        until = "" if one.last >= one.horizon - 0.01 else f" at {one.last:.1f} y"
    if room is None or len(name + said + until) <= room:
        return f"{name}{said}{until}"
    if room - len(said + until) < SHORTEST_NAME:
        until = ""
    return f"{_cut(name, room - len(said + until))}{said}{until}"


def _cut(name: str, room: int) -> str:
    """
    Cut a name to its room.

    >>> _cut("a mobile", 5), _cut("a mobile", 8)
    ('a mo…', 'a mobile')
    """
    return name if len(name) <= room else f"{name[: max(room - 1, 1)].rstrip()}…"


def largest_of(named: list[Named]) -> float:
    """The top of the axis: every estimate, and limits where they do not dwarf it."""
    estimates = [one.value(one.curve.estimate) or 0.0 for one in named]
    uppers = [one.value(one.curve.upper) or 0.0 for one in named]
    top = max(estimates, default=0.0)
    return max(top, min(max(uppers, default=0.0), 1.5 * top)) or 0.01


def strokes_of(named: list[Named], x_axis: Axis, y_axis: Axis, columns: int, focus: str | None) -> list[Stroke]:
    """Draw curves with their letters, and the limits of few curves or of the one in focus, the limits underneath."""
    limits, lines, letters = [], [], []
    for n, one in enumerate(named):
        curve, years = one.curve, one.years
        if len(named) <= MOST_WITH_LIMITS or curve.group == focus:
            # One dot every other column: lighter than the curve, in any colour. A limit beyond the axis is left out.
            for values in (curve.lower, curve.upper):
                inside = np.where(np.asarray(values) <= y_axis.high, values, np.nan)
                limits.append(Stroke(*stairs(years, inside, x_axis, columns // 4, one.last), "·", one.colour, False))
        x, y = stairs(years, curve.estimate, x_axis, columns, one.last)
        lines.append(Stroke(x, y, FINE, one.colour))
        every = slice((LETTER_EVERY // 2 + 5 * n) * 2, None, LETTER_EVERY * 2)
        letters.append(Stroke(x[every], y[every], one.letter, one.colour, False))
    return limits + lines + letters


def stand_line(lines: list[Text], column: int, canvas_lines: int) -> None:
    """Stand a line through a chart where nothing else is drawn, to read values by."""
    for n in range(canvas_lines + 1):
        mark = "▲" if n == canvas_lines else "┊"
        if n == canvas_lines or lines[n].plain[column : column + 1] == " ":
            lines[n] = Text.assemble(lines[n][:column], mark, lines[n][column + 1 :])


def _name_ends(
    lines: list[Text], named: list[Named], drawing: Drawing, y_axis: Axis, margin: int, focus: str | None
) -> None:
    """Write each curve's name beside its end; names that would meet move apart."""
    write_names(lines, named, [one.value(one.curve.estimate) or 0.0 for one in named], drawing, y_axis, margin, focus)


def write_names(
    lines: list[Text],
    named: list[Named],
    ends: list[float],
    drawing: Drawing,
    y_axis: Axis,
    margin: int,
    focus: str | None,
) -> None:
    """
    Write names beside the heights at which they belong; those that would meet move apart.

    Where there are more names than lines, one stands beside the axis, and how many are left out is said.
    """
    falling = sorted(range(len(named)), key=lambda n: -ends[n])
    decimals = 2 if y_axis.high <= SMALL else 1
    lines_there = drawing.canvas_lines + (len(named) > drawing.canvas_lines)
    placed = _apart([(drawing.line(ends[n], y_axis), n) for n in falling], lines_there)
    for place, (line, n) in enumerate(placed):
        one, left_out = named[n], len(named) - len(placed)
        more = f" +{left_out} more" if left_out and place == 0 else ""
        style = f"{one.colour} bold" if one.curve.group == focus else one.colour
        label = Text(_end_label(one, decimals, margin - 1 - len(more)) + more, style=style)
        label.truncate(margin - 1, overflow="ellipsis")
        lines[line].append(" ").append_text(label)


def _apart(wanted: list[tuple[int, int]], count: int) -> list[tuple[int, int]]:
    """
    Give each its own line out of `count`, in order and as near as may be.

    >>> _apart([(3, 0), (3, 1), (4, 2)], 5)
    [(2, 0), (3, 1), (4, 2)]
    """
    placed: list[int] = []
    for line, _ in wanted:
        placed.append(max(line, placed[-1] + 1) if placed else line)
    limit = count - 1
    for n in reversed(range(len(placed))):
        placed[n] = min(placed[n], limit)
        limit = placed[n] - 1
    return [(line, n) for line, (_, n) in zip(placed, wanted) if line >= 0]


def at_risk_lines(
    counted: list[Counted], drawing: Drawing, x_axis: Axis, width: int, what: str = "joints"
) -> list[Text]:
    """Write those at risk under their ticks, each line named at its right end."""
    if not counted:
        return []
    lines = [Text(f"{what} at risk", style="dim")]
    for one in counted:
        known = {round(years, 3): count for years, count in one.by_year.items()}
        line = " " * width
        for place, _ in x_axis.ticks:
            # Past the last count nobody is left; between counts nothing is known.
            count = known.get(round(place, 3), 0 if place > max(known, default=0) else None)
            line = _centred(line, drawing.column(place, x_axis), "" if count is None else f"{count:,}")
        end = drawing.last_column + 5
        lines.append(Text(line[:end].ljust(end)).append(one.label, style=one.colour))
    return lines


def _centred(line: str, column: int, text: str) -> str:
    first = max(0, column - len(text) // 2)
    return line[:first] + text + line[first + len(text) :]
