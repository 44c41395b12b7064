"""How records came in: the reporting triangle, operations by when they were done and when they were first received."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from itertools import groupby

from regdash.errors import FilterError
from regdash.reports import records_wording as wording
from regdash.reports.policy import Policy
from regdash.reports.records import Asked, RecordsHead, checked, head, labelled
from regdash.reports.timeliness import grouped_rows
from regdash.store.cuts import Cut
from regdash.store.sqlfiles import statement
from regdash.suggest import nearest

PERIODS = {"month": 1, "quarter": 3}  # months in each
LATEST = {"month": 24, "quarter": 60}  # months of operation that are shown unless more are asked for


@dataclass(frozen=True)
class TriangleRow:
    """One group's operations of one month or quarter that were first received in another."""

    group: str
    operated: str  # 2024-03, or 2024-Q1
    received: str
    months: int  # from the one to the other
    operations: int | None
    so_far: int | None  # of those operated then, received by the end of that month or quarter
    share: float | None  # so_far over all of those operated then that have come by now
    withheld: str | None = None


@dataclass(frozen=True)
class TriangleLine:
    """A line of the triangle: what came in the period of operation, in the next, and so on as far as is known."""

    group: str
    operated: str
    counts: tuple[int | None, ...]
    shares: tuple[float | None, ...]  # that had come by then, of all that have come
    so_far: int | None
    withheld: str | None


@dataclass(frozen=True)
class TriangleReport:
    """The reporting triangle, a row a cell; cells without operations are left out."""

    head: RecordsHead
    period: str  # month or quarter
    latest: str  # the last month or quarter in which anything could be received
    rows: tuple[TriangleRow, ...]

    @property
    def lines(self) -> tuple["TriangleLine", ...]:
        """Lay the cells out, a line a group and month or quarter of operation, those without operations as 0."""
        of_line = groupby(self.rows, lambda row: (row.group, row.operated))
        return tuple(
            self._line(*key, {row.months // PERIODS[self.period]: row for row in rows}) for key, rows in of_line
        )

    def _line(self, group: str, operated: str, cells: dict[int, TriangleRow]) -> "TriangleLine":
        """Fill a line up to the last period that can have been received."""
        lags = range((_months(self.latest) - _months(operated)) // PERIODS[self.period] + 1)
        counts = tuple(cells[lag].operations if lag in cells else 0 for lag in lags)
        shares, share = [], 0.0 if all(row.share is not None for row in cells.values()) else None
        for lag in lags:
            share = cells[lag].share if lag in cells else share
            shares.append(share)
        last = cells[max(cells)]
        return TriangleLine(group, operated, counts, tuple(shares), last.so_far, last.withheld)


def triangle_report(
    cut: Cut, policy: Policy, asked: Asked, months: int | None = None, period: str = "month"
) -> TriangleReport:
    """
    Answer: of the operations of each month or quarter, how many had come by each later one?

    Args:
        months: the latest months of operation that are shown, in whole periods; 0 for all, None for as many as LATEST.
        period: a key of PERIODS.

    Raises:
        FilterError: a word that does not choose records, another period, or more groups than anybody can read.
    """
    if period not in PERIODS:
        raise FilterError(f"Operations do not stand by {period}. {nearest(period, PERIODS, most=len(PERIODS))}")
    predicate = checked(asked.cohort).predicate()
    query = statement("queries/reporting_triangle", grouping=asked.grouping, predicate=predicate.sql)
    through = date.fromisoformat(cut.manifest.through_date)
    first = first_month(through, LATEST[period] if months is None else months, PERIODS[period])
    found = cut.rows(query, **predicate.parameters, kind=asked.kind, first_month=first, period=period)
    rows = [
        row
        for group, cells in grouped_rows(found, asked)
        for _, of_period in groupby(cells, lambda cell: cell[0])
        for row in _rows(policy, labelled(group), list(of_period), period)
    ]
    written = head(cut, policy, asked, "reporting triangle", wording.TRIANGLE, (wording.LAST_MONTH_OPEN,))
    latest = named(date.fromisoformat(cut.manifest.known_as_of), period)
    return TriangleReport(written, period, latest, tuple(rows))


def first_month(through: date, months: int, whole: int = 1) -> date:
    """
    Find the first day of the first of so many months up to a date, put back to where a whole period begins; of all,
    where they are 0.

    >>> first_month(date(2024, 3, 31), 4)
    datetime.date(2023, 12, 1)
    >>> first_month(date(2024, 3, 31), 4, whole=3)
    datetime.date(2023, 10, 1)
    """
    before = through.year * 12 + through.month - months
    before -= before % whole
    return date(before // 12, before % 12 + 1, 1) if 0 < months < before - 12 else date.min


def named(day: date, period: str) -> str:
    """
    Name the month or quarter of a day.

    >>> named(date(2024, 3, 31), "month"), named(date(2024, 3, 31), "quarter")
    ('2024-03', '2024-Q1')
    """
    return f"{day:%Y-%m}" if period == "month" else f"{day.year}-Q{(day.month + 2) // 3}"


def _months(name: str) -> int:
    """Count months up to the first of a named period."""
    year, _, part = name.partition("-")
    return int(year) * 12 + (3 * int(part[1:]) - 3 if part[0] == "Q" else int(part) - 1)


def _rows(policy: Policy, group: str, cells: list[tuple[date, date, int]], period: str) -> Iterable[TriangleRow]:
    """
    Write one month or quarter of operation. A small count withholds what follows it, which would give it away, and
    every share, whose whole it is part of.
    """
    whole = sum(count for *_, count in cells)
    no_share = policy.why_small(*(count for *_, count in cells))
    so_far, why = 0, None
    for operated, received, count in cells:
        so_far += count
        why = why or policy.why_small(count)
        lag = (received.year - operated.year) * 12 + received.month - operated.month
        told = None if why else so_far
        share = None if no_share else so_far / whole
        names = (named(operated, period), named(received, period))
        yield TriangleRow(group, *names, lag, policy.count(count), told, share, no_share)
