"""A hundred people, drawn one by one: those to whom something happens are full, all others are outlines."""

from collections.abc import Sequence

from regdash.figures.drawing import WIDTH, Drawing, Picture
from regdash.figures.style import AXIS, BOLD, SMALL

ACROSS, SIDE, STEP, TOP = 10, 11.0, 17.0, 30.0
MOST = 4  # groups of a hundred beside each other


def hundred_figure(groups: Sequence[tuple[str, int]]) -> Picture:
    """
    Draw a square of a hundred for each group.

    Args:
        groups: a label, and how many of 100; at most MOST.
    """
    drawing = Drawing(TOP + ACROSS * STEP + 22)
    apart = WIDTH / max(len(groups), 1)
    for n, (label, number) in enumerate(groups[:MOST]):
        left = n * apart + (apart - ACROSS * STEP) / 2
        drawing.text(left, TOP - 12, label, BOLD)
        for place in range(100):
            x, y = left + STEP * (place % ACROSS), TOP + STEP * (place // ACROSS)
            if place < number:
                drawing.box(x, y, SIDE, SIDE, "f0")
            else:
                corners = [(x + 2, y + 2), (x + SIDE - 2, y + 2), (x + SIDE - 2, y + SIDE - 2), (x + 2, y + SIDE - 2)]
                drawing.path(corners, AXIS, closed=True)
        drawing.text(left, TOP + ACROSS * STEP + 12, f"{number} of 100", SMALL)
    return drawing.done()
