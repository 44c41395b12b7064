"""The reasons of one group as a list: incidence, limits, a bar on a scale shared by all groups, counts."""

from rich.text import Text

from regdash.charts.bars import limits_bar
from regdash.charts.step import MOST_CURVES, letter_of
from regdash.dashboard import wording
from regdash.dashboard.widgets.grid import Column, Row
from regdash.dashboard.widgets.pane import Pane
from regdash.reports.model import Group, ReasonRow, ReasonsReport

REASON_WIDTH = 22
BESIDE_BAR = 54  # columns that the figures beside a bar take, without the limits
SHORTEST_LIMITS = len("0.52 to 1.04")
SHORTEST_BAR = 6


class ReasonsPane(Pane):
    """Reasons by falling incidence; the value of a row is its group and its reason."""

    def show(self, report: ReasonsReport, group: Group, width: int, letters: bool = False) -> None:
        """
        Show a group's reasons.

        Args:
            width: columns that the list has.
            letters: put the letter of its curve before each reason.
        """
        rows = [row for row in report.rows if row.group == group.label]
        withheld = next((row.withheld for row in rows if row.withheld), None)
        said = f"{group.label}: revised for each reason within {wording.years(report.years)}"
        number = report.groups.index(group) + 1
        self.title(
            f"{said} – {withheld}" if withheld else said,
            f"group {number} of {len(report.groups)} " if len(report.groups) > 1 else "",
        )
        largest = max((row.upper or row.incidence or 0.0 for row in report.rows), default=0.0)
        limits = max([SHORTEST_LIMITS, *(len(_limits(row)) for row in report.rows)])  # those of all groups, as the bar
        bar = max(SHORTEST_BAR, width - BESIDE_BAR - limits - 2 * letters)
        drawn = [row.reason for row in rows[:MOST_CURVES]] if letters else []
        self.grid.show(_columns(largest, limits, bar, letters), [_row(row, group, drawn, largest, bar) for row in rows])

    def clear(self) -> None:
        """Show nothing."""
        self.grid.show((), [])


def _columns(largest: float, limits: int, bar: int, letters: bool) -> tuple[Column, ...]:
    """The share of joints is that within the horizon; counts and their shares are of all follow-up."""
    return (
        Column("reason", "reason", left=True, width=REASON_WIDTH + 2 * letters),
        Column("%", "incidence"),
        Column("95 % limits", left=True, width=limits),
        Column(f"0 to {100 * largest:.1f} %" if largest else "", left=True, width=bar),
        Column("ever", "revised"),
        Column("share %", "share"),
    )


def _limits(row: ReasonRow) -> str:
    return "withheld" if row.withheld else wording.percent_limits(row.lower, row.upper, 2)


def _row(row: ReasonRow, group: Group, drawn: list[str], largest: float, bar: int) -> Row:
    name = f"{letter_of(drawn, row.reason, None)} {row.reason}" if drawn else row.reason
    return Row(
        (
            name,
            wording.percent(row.incidence, 2),
            _limits(row),
            Text(limits_bar(row.incidence, row.lower, row.upper, largest, bar)),
            wording.count(row.revisions),
            wording.percent(row.share, 0),
        ),
        (group, row.reason),
        (row.reason, row.incidence, None, None, row.revisions, row.share),
    )
