"""
Bars made of characters, so that each can stand in a row of a list: a share with its limits, and counts by year.

These need no chart library: a bar with limits is one line, and limits are signs of their own beside the bar.
"""

from collections.abc import Sequence

EIGHTHS = " ▁▂▃▄▅▆▇█"


def limits_bar(estimate: float | None, lower: float | None, upper: float | None, largest: float, width: int) -> str:
    """
    Draw an estimate as a bar from zero, with its limits.

    The bar ends in ● at the estimate; ├ and ┤ stand at the limits, clipped to the right edge.

    Args:
        largest: what the whole width stands for.

    >>> limits_bar(0.05, 0.03, 0.08, 0.1, 11)
    '━━━├━●──┤  '
    >>> limits_bar(None, None, None, 0.1, 11)
    '           '
    """
    if estimate is None or largest <= 0 or width < 1:
        return " " * max(width, 0)

    def place(value: float) -> int:
        return round(max(0.0, min(value / largest, 1.0)) * (width - 1))

    cells = [" "] * width
    end = place(estimate)
    cells[:end] = "━" * end
    if upper is not None:
        last = place(upper)
        cells[end:last] = "─" * (last - end)
        cells[last] = "┤"
    if lower is not None:
        cells[place(lower)] = "├"
    cells[end] = "●"
    return "".join(cells)


def column_chart(counts: Sequence[tuple[str, int]], width: int, height: int) -> list[str]:
    """
    Draw counts as columns with their labels under them, and the largest count at the top left.

    Args:
        counts: label and count, in order; labels that would touch are left out.

    Returns:
        `height` lines; the last holds the labels.

    >>> for line in column_chart([("2001", 4), ("2002", 8)], 20, 3): print(line)
    8 ┤        ███████
      │███████ ███████
       2001    2002
    """
    lines = max(1, height - 1)
    largest = max((count for _, count in counts), default=0)
    gutter = f"{largest:,} ┤"
    step = max(1, min(8, (width - len(gutter)) // max(1, len(counts))))
    bar = step - 1 if step > 2 else step
    shown = counts[-((width - len(gutter)) // step) :] if counts else []
    rows = []
    for line in range(lines):
        cells = (_cell(count, largest, lines, lines - 1 - line) * bar for _, count in shown)
        start = gutter if line == 0 else " " * (len(gutter) - 1) + "│"
        rows.append((start + "".join(cell.ljust(step) for cell in cells)).rstrip())
    return [line[:width] for line in (*rows, _labels(shown, len(gutter), step))][-height:] if height else []


def _cell(count: int, largest: int, lines: int, level: int) -> str:
    """The sign of one line of a column, in eighths; a count above 0 shows at least an eighth."""
    eighths = round(count / largest * lines * 8) if largest else 0
    if count and not eighths:
        eighths = 1
    return EIGHTHS[max(0, min(8, eighths - level * 8))]


def _labels(shown: Sequence[tuple[str, int]], gutter: int, step: int) -> str:
    line = " " * gutter
    for n, (label, _) in enumerate(shown):
        start = gutter + n * step
        if start == gutter or start > len(line):
            line = line.ljust(start) + label
    return line
