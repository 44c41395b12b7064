"""Counts by year or quarter: a column each, one panel a group, all panels on one scale of their own."""

from collections.abc import Sequence

from regdash.charts.scale import Axis
from regdash.figures.axes import plain_axis
from regdash.figures.drawing import WIDTH, Drawing, Picture
from regdash.figures.style import AXIS, BOLD, GRID, SMALL

LEFT, RIGHT, PANEL, GAP = 64.0, 12.0, 92.0, 44.0
MOST_LABELS = 12
Counts = Sequence[tuple[str, int | None]]  # label and count; None where it is withheld


def column_figure(panels: Sequence[tuple[str, Counts]]) -> Picture:
    """Draw counts, a panel a group; columns with the same label stand under each other."""
    labels = list(dict.fromkeys(label for _, counts in panels for label, _ in counts))
    labels.sort()
    drawing = Drawing(max(len(panels), 1) * (PANEL + GAP) + 14)
    for n, (name, counts) in enumerate(panels):
        _panel(drawing, name, dict(counts), labels, 22 + n * (PANEL + GAP), n)
    return drawing.done()


def _panel(
    drawing: Drawing, name: str, counts: dict[str, int | None], labels: Sequence[str], top: float, series: int
) -> None:
    bottom = top + PANEL
    axis = plain_axis([float(count or 0) for count in counts.values()])
    drawing.text(LEFT, top - 8, name, BOLD)
    _scale(drawing, axis, top, bottom)
    step = (WIDTH - LEFT - RIGHT) / max(len(labels), 1)
    every = -(-len(labels) // MOST_LABELS)
    for place, label in enumerate(labels):
        x = LEFT + step * place
        if (count := counts.get(label)) is not None:
            tall = PANEL * count / axis.high
            drawing.box(x + step * 0.14, bottom - tall, step * 0.72, tall, f"f{series % 6}")
        elif label in counts:
            drawing.text(x + step / 2, bottom - 5, "×", SMALL, "middle")
        if place % every == 0:
            drawing.text(x + step / 2, bottom + 16, label, SMALL, "middle")
    drawing.line((LEFT, bottom), (WIDTH - RIGHT, bottom), AXIS)


def _scale(drawing: Drawing, axis: Axis, top: float, bottom: float) -> None:
    for value, label in axis.ticks[:: max(1, len(axis.ticks) // 3)]:
        y = bottom - (bottom - top) * value / axis.high
        drawing.line((LEFT, y), (WIDTH - RIGHT, y), GRID)
        drawing.text(LEFT - 7, y + 4, f"{float(label):,.0f}", SMALL, "end")
