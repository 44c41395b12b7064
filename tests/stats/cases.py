"""The reference files, and rows of joints turned into counts."""

import csv
from collections.abc import Iterable
from pathlib import Path

from regdash.stats.events import EventTable, GroupCounts

REFERENCE = Path(__file__).parent.parent / "reference"

Row = dict[str, str]


def rows_of(name: str, **only: str) -> list[Row]:
    """Read a reference file, or those of its rows that have these values."""
    with open(REFERENCE / f"{name}.csv", newline="") as file:
        return [row for row in csv.DictReader(file) if all(row[key] == value for key, value in only.items())]


def values_of(rows: list[Row], column: str) -> list[float]:
    return [float(row[column]) for row in rows]


def counts_of(joints: Iterable[tuple[int, int]], reasons: int = 1) -> GroupCounts:
    """Count joints, each with its last day and outcome (0 censored, 1 died, from 2 on revised for a reason)."""
    days, outcomes = zip(*joints, strict=True)
    labels = ("censored", "died", *(f"reason {number}" for number in range(1, reasons + 1)))
    return EventTable((("all",),), labels, [0] * len(days), days, outcomes, [1] * len(days)).of(0)


def joints_of(rows: list[Row], time: str, status: str, outcomes: dict[str, int]) -> list[tuple[int, int]]:
    """Read rows as joints; outcomes says which of ours each status stands for."""
    return [(int(row[time]), outcomes[row[status]]) for row in rows]
