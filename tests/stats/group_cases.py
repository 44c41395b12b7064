"""Rows of joints as event tables of several groups."""

from collections.abc import Callable, Sequence

from regdash.stats.events import EventTable
from tests.stats.cases import Row

Joint = tuple[int, int]  # last day, and how follow-up ended there: an outcome's number


def table_of(groups: Sequence[tuple[str, Sequence[Joint]]], reasons: int = 1) -> EventTable:
    """Give each label with its joints; outcomes are 0 censored, 1 died, from 2 on revised for a reason."""
    rows = [(number, *joint) for number, (_, joints) in enumerate(groups) for joint in joints]
    outcomes = ("censored", "died", *(f"reason {number}" for number in range(1, reasons + 1)))
    columns = zip(*rows, strict=True) if rows else ((), (), ())
    return EventTable(tuple((label,) for label, _ in groups), outcomes, *columns, [1] * len(rows))


def table_of_rows(
    rows: list[Row], group: Callable[[Row], str], time: str, status: str, outcomes: dict[str, int]
) -> EventTable:
    """Read a reference file's rows; outcomes says which of ours each status stands for; labels come sorted."""
    labels = sorted({group(row) for row in rows})
    groups = [
        (label, [(int(row[time]), outcomes[row[status]]) for row in rows if group(row) == label]) for label in labels
    ]
    return table_of(groups, max(outcomes.values()) - 1)
