"""
Ratios and differences with their limits, each in one line of characters: on a log axis around 1, or around 0.

What lies beyond the axis ends in an arrow at its edge.
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

LONGEST = 20.0  # ratio; what is farther from 1 ends in an arrow
NARROWEST = 2.0  # ratio up to which an axis goes at least, both ways
STEPS = (1.0, 2.0, 5.0)
Figure = tuple[float | None, float | None, float | None]  # estimate, lower, upper


@dataclass(frozen=True)
class LineAxis:
    """An axis in one line: its ends and its middle, in the units in which places are proportional to distance."""

    low: float
    high: float
    middle: float  # where a line stands through all rows
    ticks: tuple[tuple[float, str], ...]

    def place(self, value: float, width: int) -> int:
        """The column of a value; -1 or the width where it lies beyond the ends."""
        if not self.low - 1e-9 <= value <= self.high + 1e-9:
            return -1 if value < self.low else width
        return round((value - self.low) / (self.high - self.low) * (width - 1))

    def header(self, width: int) -> str:
        """
        Write the axis's labels over their places; those that would touch are left out, the middle never.

        >>> ratio_axis([(2.5, 1.9, 3.3)]).header(31)
        '0.5      1        2           5'
        """
        line = [" "] * width
        foremost = [tick for tick in self.ticks if tick[0] == self.middle] + [self.ticks[0], self.ticks[-1]]
        for value, label in dict.fromkeys((*foremost, *self.ticks)):
            start = min(max(0, self.place(value, width) - len(label) // 2), max(0, width - len(label)))
            around = line[max(0, start - 1) : start + len(label) + 1]
            if all(sign == " " for sign in around):
                line[start : start + len(label)] = label
        return "".join(line)[:width]


def ratio_axis(figures: Iterable[Figure]) -> LineAxis:
    """
    Find a log axis that holds ratios and their limits, and 1 in any case.

    >>> [label for _, label in ratio_axis([(2.5, 1.9, 3.3), (None, None, None)]).ticks]
    ['0.5', '1', '2', '5']
    """
    values = [value for figure in figures for value in figure if value is not None and value > 0]
    low = min([1 / NARROWEST, *(max(value, 1 / LONGEST) for value in values)])
    high = max([NARROWEST, *(min(value, LONGEST) for value in values)])
    powers = range(-math.ceil(math.log10(LONGEST)) - 1, math.ceil(math.log10(LONGEST)) + 1)
    every = [step * 10.0**power for power in powers for step in STEPS]
    first = max(tick for tick in every if tick <= low * (1 + 1e-9))
    last = min(tick for tick in every if tick >= high * (1 - 1e-9))
    ticks = tuple((math.log(tick), f"{tick:g}") for tick in every if first <= tick <= last)
    return LineAxis(math.log(first), math.log(last), 0.0, ticks)


def difference_axis(figures: Iterable[Figure]) -> LineAxis:
    """
    Find an axis that holds differences of proportions and their limits, and 0 in any case; labels are points.

    >>> [label for _, label in difference_axis([(0.156, 0.113, 0.198)]).ticks]
    ['0', '20']
    """
    values = [value for figure in figures for value in figure if value is not None]
    low, high = min([0.0, *values]), max([0.0, *values])
    first = -_round_up(-low) if low < 0 else 0.0
    last = _round_up(high) if high > 0 or not low < 0 else 0.0
    ticks = [(at, f"{100 * at:g}") for at in (first, 0.0, last)]
    return LineAxis(first, last, 0.0, tuple(dict.fromkeys(ticks)))


def _round_up(value: float) -> float:
    """The smallest of 1, 2, 5, 10, 20, … and their tenths that is not below a value; 0.001 at least."""
    value = max(value, 0.001)
    power = 10.0 ** math.floor(math.log10(value))
    return next(step * power for step in (*STEPS, 10.0) if step * power >= value * (1 - 1e-9))


def ratio_line(figure: Figure, axis: LineAxis, width: int) -> str:
    """
    Draw a ratio with its limits; a line stands at 1. An upper limit that cannot be stated lies beyond the edge.

    >>> axis = ratio_axis([(2.5, 1.9, 3.3)])
    >>> ratio_line((2.5, 1.9, 3.3), axis, 31)
    '         │       ├───●───┤     '
    >>> ratio_line((None, None, None), axis, 11)
    '   │       '
    """
    estimate, lower, upper = figure
    if estimate is not None and upper is None:  # too far out to be stated
        upper = math.inf
    return _line((_log(estimate), _log(lower), _log(upper)), axis, width)


def difference_line(figure: Figure, axis: LineAxis, width: int) -> str:
    """
    Draw a difference with its limits; a line stands at 0.

    >>> difference_line((0.05, -0.02, 0.1), LineAxis(-0.1, 0.1, 0.0, ()), 21)
    '        ├─│────●────┤'
    """
    return _line(figure, axis, width)


def _log(ratio: float | None) -> float | None:
    return None if ratio is None else math.log(max(ratio, 1e-300))


def _line(figure: Figure, axis: LineAxis, width: int) -> str:
    if width < 1:
        return ""
    cells = [" "] * width
    estimate, lower, upper = figure
    middle = axis.place(axis.middle, width)
    if estimate is None:
        cells[middle] = "│"
        return "".join(cells)
    ends: Sequence[float] = [estimate if end is None else end for end in (lower, upper)]
    first, last = (axis.place(end, width) for end in ends)
    for place in range(max(0, first), min(width - 1, last) + 1):
        cells[place] = "─"
    cells[middle] = "│"
    if lower is not None:
        _mark(cells, first, "├")
    if upper is not None:
        _mark(cells, last, "┤")
    _mark(cells, axis.place(estimate, width), "●")
    return "".join(cells)


def _mark(cells: list[str], place: int, sign: str) -> None:
    """Put a sign in its place, or an arrow at the edge that it lies beyond."""
    if 0 <= place < len(cells):
        cells[place] = sign
    elif place < 0:
        cells[0] = "◂"
    else:
        cells[-1] = "▸"
