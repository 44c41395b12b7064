"""What stands on a screen as text and as CSV, and the file it is written to."""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path

from rich.text import Text

from regdash.dashboard.widgets.chart import Chart
from regdash.dashboard.widgets.grid import Grid, Row
from regdash.errors import WriteError
from regdash.output.listing import Listing
from regdash.output.table import Column, lay_out

THOUSANDS = re.compile(r"-?\d{1,3}(,\d{3})+(\.\d+)?")
WIDE_PAGE = 10_000  # columns: a list is written with all of its columns, however wide


def listed(grid: Grid) -> Listing:
    """
    Take a list as it stands, in its order and with all its columns; numbers lose the commas between thousands.

    Raises:
        WriteError: rows of it have not been fetched yet.
    """
    columns = _told_apart([column.title for column in grid.columns])
    rows = [tuple(_plain_number(_plain(cell)) for cell in row.cells) for row in _rows(grid)]
    return Listing("list", columns, rows)


def list_as_text(grid: Grid) -> list[str]:
    """Lay a list out as lines of text, as `listed` takes it, its commas kept."""
    columns = [
        Column(column.title, [_plain(row.cells[n]) for row in _rows(grid)], left=column.left)
        for n, column in enumerate(grid.columns)
    ]
    return [line.rstrip() for line in lay_out(columns, WIDE_PAGE).lines] if columns else []


def chart_as_text(chart: Chart) -> list[str]:
    """Take a chart as it is drawn."""
    return [line.rstrip() for line in chart.render().plain.splitlines()]


def _rows(grid: Grid) -> list[Row]:
    rows = [grid.rows[n] for n in range(len(grid.rows))] if isinstance(grid.rows, list) else []
    if len(rows) < len(grid.rows):
        raise WriteError("This list is fetched as it comes into view; csv writes all of it.")
    return [row for row in rows if row is not None]


def _plain(cell: str | Text) -> str:
    return cell.plain if isinstance(cell, Text) else cell


def _plain_number(text: str) -> str:
    return text.replace(",", "") if THOUSANDS.fullmatch(text) else text


def _told_apart(titles: Sequence[str]) -> tuple[str, ...]:
    """
    Name each column once: a title that comes again is named behind the column before it.

    >>> _told_apart(["risk %", "95 % limits", "rate", "95 % limits"])
    ('risk %', '95 % limits', 'rate', 'rate, 95 % limits')
    """
    told: list[str] = []
    for place, title in enumerate(titles):
        name = f"{titles[place - 1]}, {title}" if title in told and place else title
        while name in told:
            name += "'"
        told.append(name)
    return tuple(told)


def refuse_path(path: Path) -> None:
    """
    Refuse a file that cannot be written without losing another.

    Raises:
        WriteError: it is there already, or its folder is not.
    """
    if path.exists():
        raise WriteError(f"{path} is there already, and nothing is written over. Name another file.")
    if not path.parent.is_dir():
        raise WriteError(f"There is no folder {path.parent}.")


def save(path: Path, text: str) -> None:
    """
    Write a new file.

    Raises:
        WriteError: it is there already, or it cannot be written.
    """
    refuse_path(path)
    try:
        with path.open("x", encoding="utf-8", newline="") as file:
            file.write(text)
    except OSError as fault:
        raise WriteError(f"{path} cannot be written: {fault.strerror}.") from None
