"""The list of how records came in: operations by when they were done, and how much later they were first received."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar

from regdash.cohort import Cohort
from regdash.dashboard import wording
from regdash.dashboard.sections import Table
from regdash.dashboard.sections_of_records import WORDS, GroupedSection
from regdash.dashboard.widgets.grid import Column, Row

if TYPE_CHECKING:
    from regdash.dashboard.questions import Questions
    from regdash.reports.timeliness import DelaysReport
    from regdash.reports.triangle import TriangleLine, TriangleReport

COUNTS, SHARES = "counts", "shares"


class TriangleSection(GroupedSection):
    """The reporting triangle, by quarter or month and in counts or shares, and how long delays are in all."""

    name = "triangle"
    about = "operations by when they were done, and how much later they came"
    words = WORDS
    asks = "triangle"
    enter = ""
    empty = "no operations"
    groupings: ClassVar = (("quarter", COUNTS), ("quarter", SHARES), ("month", COUNTS), ("month", SHARES))

    def ask(self, desk: Questions, cohort: Cohort, by: tuple[str, ...]) -> _Arrivals:
        """Ask for the triangle, and for delays all together."""
        period, shown = by
        return _Arrivals(desk.triangle(cohort, period=period), desk.delays(cohort, ()), shown)

    def table(self, report: _Arrivals, width: int) -> Table:
        """One line a month or quarter, the newest first; a column for each that can have passed since."""
        lines = tuple(reversed(report.triangle.lines))
        most = max((len(line.counts) for line in lines), default=0)
        columns = [
            Column("operated", "operated", left=True),
            *([Column("group", "group", left=True)] if report.grouped else []),
            Column("so far", "so_far"),
            *(Column(f"+{lag}") for lag in range(most)),
        ]
        return columns, [_line_row(report, line, most) for line in lines]

    def counts(self, report: _Arrivals) -> str:
        """Say how long delays are; of several joints nothing is said together."""
        if len(report.delays.rows) != 1:
            return self.about
        (delays,) = report.delays.rows
        if delays.withheld:
            return f"delays: {delays.withheld}"
        within = (delays.within_30, delays.within_60, delays.within_90)
        shares = ", ".join(map(wording.percent, within))
        days = f"delays: median {delays.median_days} days, 90th centile {delays.ninetieth_days}"
        return f"{days}; in 30, 60, 90 days: {shares} %"

    def sentence(self, report: _Arrivals, row: Row | None, chosen: int) -> str:
        """Say the count and the share in the chosen column."""
        if row is None:
            return super().sentence(report, row, chosen)
        line: TriangleLine = row.value
        lag, period = chosen - 2 - report.grouped, report.triangle.period
        if not 0 <= lag < len(line.counts):
            rest = f" {line.withheld}." if line.withheld else ""
            means = f"+1 came in the {period} after; left and right choose a column."
            return f"done {line.operated}: {wording.count(line.so_far)} so far.{rest} {means}"
        when = f"in that {period}" if not lag else f"{lag} {period}{'s' if lag > 1 else ''} later"
        share = f"by then {wording.percent(line.shares[lag])} % of those so far"
        told = line.withheld if line.shares[lag] is None else share
        return f"done {line.operated}, came {when}: {wording.count(line.counts[lag])}; {told}"

    def command(self, cohort: Cohort, by: tuple[str, ...], row: Row | None) -> str:
        """The same question at the command line."""
        period, shown = by
        words = wording.words_for_shell(cohort.words)
        said = f"regdash quality triangle {words} --period {period}{' --shares' if shown == SHARES else ''}"
        return said.replace("  ", " ")


class _Arrivals:
    """The triangle and the delays of the same operations."""

    def __init__(self, triangle: TriangleReport, delays: DelaysReport, shown: str) -> None:
        self.triangle, self.delays, self.shown = triangle, delays, shown
        self.head = triangle.head
        self.grouped = bool(triangle.head.by)


def _line_row(report: _Arrivals, line: TriangleLine, most: int) -> Row:
    if report.shown == SHARES:
        came = [wording.percent(share) for share in line.shares]
    else:
        came = [wording.count(count) for count in line.counts]
    came += [""] * (most - len(came))  # cannot have come yet
    group = (line.group,) if report.grouped else ()
    keys = (line.operated, *group, line.so_far, *came)
    return Row((line.operated, *group, wording.count(line.so_far), *came), line, keys)
