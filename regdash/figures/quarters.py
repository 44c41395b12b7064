"""Quarter after quarter, what became of one unit: a column a year, a row a quarter; shapes differ, colours need not."""

from collections.abc import Sequence

from regdash.figures.drawing import WIDTH, Drawing, Picture
from regdash.figures.style import AXIS, SMALL

LEFT, RIGHT, TOP, ROW = 40.0, 12.0, 8.0, 22.0
WIDEST = 40.0  # of a column, where there are few years
MOST_LABELS = 14
QUARTERS = 4
FULL, EMPTY, LINE, NONE = "full", "empty", "line", "none"  # what a quarter's place holds


def quarters_figure(quarters: Sequence[str], marks: Sequence[str], key: Sequence[tuple[str, str]]) -> Picture:
    """
    Draw a mark for each quarter.

    Args:
        quarters: as in 2024Q3, one after the other.
        marks: one of FULL, EMPTY, LINE and NONE for each.
        key: what each mark says, for the line under the drawing.
    """
    years = sorted({int(quarter[:4]) for quarter in quarters})
    drawing = Drawing(TOP + ROW * QUARTERS + 58)
    step = min((WIDTH - LEFT - RIGHT) / max(len(years), 1), WIDEST)
    for n in range(QUARTERS):
        drawing.text(LEFT - 8, TOP + ROW * n + ROW / 2 + 4, f"Q{n + 1}", SMALL, "end")
    every = -(-len(years) // MOST_LABELS)
    for place, year in enumerate(years):
        if place % every == 0:
            drawing.text(LEFT + step * (place + 0.5), TOP + ROW * QUARTERS + 16, str(year), SMALL, "middle")
    for quarter, mark in zip(quarters, marks, strict=True):
        x = LEFT + step * (int(quarter[:4]) - years[0] + 0.5)
        _mark(drawing, x, TOP + ROW * (int(quarter[-1]) - 0.5), min(step, ROW) * 0.36, mark)
    _key(drawing, key, TOP + ROW * QUARTERS + 42)
    return drawing.done()


def _mark(drawing: Drawing, x: float, y: float, half: float, mark: str) -> None:
    corners = [(x - half, y - half), (x + half, y - half), (x + half, y + half), (x - half, y + half)]
    if mark == FULL:
        drawing.box(x - half, y - half, 2 * half, 2 * half, "f1")
    elif mark == EMPTY:
        drawing.path(corners, AXIS, closed=True)
    elif mark == LINE:
        drawing.line((x - half, y), (x + half, y), AXIS)


def _key(drawing: Drawing, key: Sequence[tuple[str, str]], y: float) -> None:
    x = LEFT
    for mark, said in key:
        if mark != NONE:
            _mark(drawing, x + 6, y - 4, 6, mark)
        drawing.text(x + (18 if mark != NONE else 6), y, said, SMALL)
        x += 30 + 7 * len(said)
