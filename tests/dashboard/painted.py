"""What a screen shows, read as a person reads it: words and numbers where they are painted."""

import re
from collections.abc import Sequence
from dataclasses import dataclass

from regdash.dashboard.widgets.grid import Grid
from tests.dashboard.driving import Driver

CELL = re.compile(r"\S+(?: \S+)*")  # two blanks stand between columns
AXIS = re.compile(r"(?!\d{4}$)[\d. ]+")  # over bars; a year is a title
SCROLLBAR = " ▁▂▃▄▅▆▇█"
Cells = dict[str, str]


@dataclass(frozen=True)
class Painted:
    """All lines of a screen, and of the list that has the focus the cell under each title, row by row."""

    lines: tuple[str, ...]
    rows: tuple[Cells, ...]

    @property
    def text(self) -> str:
        """All lines in one piece."""
        return "\n".join(self.lines)


def painted(on: Driver) -> Painted:
    """Read the screen."""
    return Painted(tuple(on.lines), listed(on.lines, on.grid))


def listed(lines: Sequence[str], grid: Grid) -> tuple[Cells, ...]:
    """Read the lines of a list: a cell stands under the title that begins or ends where it does; bars are no cells."""
    at = grid.content_region
    head, *rows = [line[at.x : at.right] for line in lines[at.y : at.bottom]]
    titles = _titles(head.rstrip(" ›"))
    return tuple(_cells(" " + row[1:].rstrip(SCROLLBAR), titles) for row in rows if row[1:].strip(SCROLLBAR))


def _titles(head: str) -> dict[str, tuple[int, int]]:
    """Where each title stands; one that is there twice has a 2 the second time."""
    found: dict[str, tuple[int, int]] = {}
    for cell in CELL.finditer(head):
        if not AXIS.fullmatch(cell[0]):
            found[f"{cell[0]} 2" if cell[0] in found else cell[0]] = cell.span()
    return found


def _cells(line: str, titles: dict[str, tuple[int, int]]) -> Cells:
    cells: Cells = {}
    for cell in CELL.finditer(line):
        under = [name for name, span in titles.items() if cell.start() == span[0] or cell.end() == span[1]]
        cells |= dict.fromkeys(under[:1], cell[0])
    return cells


def reads(shown: str, value: float | None, decimals: int = 0) -> bool:
    """
    Whether a number is painted as this one, rounded to so many decimals; a dash stands where there is none.

    >>> reads("4.9", 4.894, 1), reads("1,027", 1027), reads("–", None), reads("4.8", 4.894, 1), reads("5", 4.894, 1)
    (True, True, True, False, False)
    """
    return shown == "–" if value is None else shown == f"{value:z,.{decimals}f}"


def reads_limits(shown: str, lower: float | None, upper: float | None, decimals: int) -> bool:
    """
    Whether limits are painted as these; where there are none a word or a reason stands there.

    >>> reads_limits("4.2 to 5.7", 4.21, 5.69, 1), reads_limits("4.2 to 5.7", None, None, 1)
    (True, False)
    """
    if lower is None or upper is None:
        return not shown[:1].isdigit()
    return shown == f"{lower:z,.{decimals}f} to {upper:z,.{decimals}f}"


def reads_p(shown: str, value: float | None) -> bool:
    """
    Whether a p or q value is painted as this one.

    >>> reads_p("0.0230", 0.02301), reads_p("<0.0001", 0.00001), reads_p("0.0000", 0.00001)
    (True, True, False)
    """
    return shown == "<0.0001" if value is not None and value < 0.0001 else reads(shown, value, 4)
