"""How long records take to arrive: the distribution of delays, and the triangle of months."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import groupby
from typing import Any

import numpy as np

from regdash.reports import records_wording as wording
from regdash.reports.policy import Policy
from regdash.reports.records import Asked, RecordsHead, checked, head, labelled, refuse_many
from regdash.stats.delays import order_statistic, share_within
from regdash.store.cuts import Cut
from regdash.store.sqlfiles import statement

WITHIN = (30, 60, 90)  # days
TRIANGLE_MONTHS = 24  # of operation, the latest


@dataclass(frozen=True)
class DelayRow:
    """One group: days from operation to first receipt."""

    group: str
    operations: int | None  # received, and old enough to be judged
    median_days: int | None
    ninetieth_days: int | None  # 90th centile
    within_30: float | None  # share received within so many days
    within_60: float | None
    within_90: float | None
    too_recent: int | None  # operations left out because their delay cannot yet be known
    withheld: str | None = None


@dataclass(frozen=True)
class DelaysReport:
    """Delays by group."""

    head: RecordsHead
    rows: tuple[DelayRow, ...]


@dataclass(frozen=True)
class TriangleRow:
    """One group's operations of one month that were first received in another."""

    group: str
    operated: str  # month, as 2024-03
    received: str
    months: int  # from the one to the other
    operations: int | None
    so_far: int | None  # of that month of operation, received by the end of that month
    withheld: str | None = None


@dataclass(frozen=True)
class TriangleReport:
    """The reporting triangle, a row a cell; cells without operations are left out."""

    head: RecordsHead
    rows: tuple[TriangleRow, ...]


def delays_report(cut: Cut, policy: Policy, asked: Asked) -> DelaysReport:
    """
    Answer: how many days pass from an operation to its record?

    Raises:
        FilterError: a word that does not choose records, or more groups than anybody can read.
    """
    predicate = checked(asked.cohort).predicate()
    query = statement("queries/record_delays", grouping=asked.grouping, predicate=predicate.sql)
    settled_by = date.fromisoformat(cut.manifest.known_as_of) - timedelta(days=WITHIN[-1])
    found = cut.rows(query, **predicate.parameters, kind=asked.kind, settled_by=settled_by)
    groups = _grouped(found, asked)
    rows = tuple(_delay_row(policy, labelled(group), rows) for group, rows in groups)
    cautions = (wording.recent_left_out(WITHIN[-1]), wording.STILL_TO_COME)
    return DelaysReport(head(cut, policy, asked, "reporting delay", wording.DELAYS, cautions), rows)


def _grouped(found: list[tuple[Any, ...]], asked: Asked) -> list[tuple[tuple[str, ...], list[tuple[Any, ...]]]]:
    """Split rows by their leading columns, groups in order and the rest of each row sorted within."""
    keys = len(asked.by)
    found.sort(key=lambda row: (asked.place(row[:keys]), row[keys:]))
    groups = [(group, [row[keys:] for row in rows]) for group, rows in groupby(found, lambda row: row[:keys])]
    refuse_many(len(groups), asked)
    return groups


def _delay_row(policy: Policy, group: str, rows: Iterable[tuple[int, bool, int]]) -> DelayRow:
    cells = list(rows)
    settled = np.array([(delay, count) for delay, is_settled, count in cells if is_settled], dtype=np.int64)
    days, counts = settled.reshape(-1, 2).T
    total, recent = int(counts.sum()), sum(count for _, is_settled, count in cells if not is_settled)
    within = [share_within(days, counts, most) for most in WITHIN]
    numbers = [round((share or 0) * total) for share in within]
    why = policy.why_small(total, *numbers, *(total - number for number in numbers))
    if why or not total:
        return DelayRow(group, policy.count(total), *(None,) * 5, policy.count(recent), why or wording.ALL_RECENT)
    median, ninetieth = order_statistic(days, counts, 1, 2), order_statistic(days, counts, 9, 10)
    month, two_months, three_months = within
    return DelayRow(group, total, median, ninetieth, month, two_months, three_months, policy.count(recent))


def triangle_report(cut: Cut, policy: Policy, asked: Asked, months: int = TRIANGLE_MONTHS) -> TriangleReport:
    """
    Answer: of each month's operations, how many had come by each later month?

    Args:
        months: the latest months of operation that are shown; 0 for all.

    Raises:
        FilterError: a word that does not choose records, or more groups than anybody can read.
    """
    predicate = checked(asked.cohort).predicate()
    query = statement("queries/reporting_triangle", grouping=asked.grouping, predicate=predicate.sql)
    first = first_month(date.fromisoformat(cut.manifest.through_date), months)
    found = cut.rows(query, **predicate.parameters, kind=asked.kind, first_month=first)
    rows = [
        row
        for group, cells in _grouped(found, asked)
        for _, of_month in groupby(cells, lambda cell: cell[0])
        for row in _triangle_rows(policy, labelled(group), of_month)
    ]
    cautions = (wording.LAST_MONTH_OPEN,)
    return TriangleReport(head(cut, policy, asked, "reporting triangle", wording.TRIANGLE, cautions), tuple(rows))


def first_month(through: date, months: int) -> date:
    """
    Find the first day of the first of so many months up to a date; of all, where they are 0.

    >>> first_month(date(2024, 3, 31), 4)
    datetime.date(2023, 12, 1)
    """
    before = through.year * 12 + through.month - months
    return date(before // 12, before % 12 + 1, 1) if 0 < months < before - 12 else date.min


def _triangle_rows(policy: Policy, group: str, cells: Iterable[tuple[date, date, int]]) -> list[TriangleRow]:
    """Write one month of operation; a small count withholds what follows it, which would give it away."""
    rows, so_far, why = [], 0, None
    for operated, received, count in cells:
        so_far += count
        why = why or policy.why_small(count)
        lag = (received.year - operated.year) * 12 + received.month - operated.month
        told = None if why else so_far
        rows.append(TriangleRow(group, f"{operated:%Y-%m}", f"{received:%Y-%m}", lag, policy.count(count), told, why))
    return rows
