"""Every implant of the cohort against all others of its class."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from textual.widget import Widget

from regdash.dashboard import wording
from regdash.dashboard.asked import Asked
from regdash.dashboard.place import Place
from regdash.dashboard.widgets.grid import Column, Grid, Row
from regdash.dashboard.widgets.line import Line
from regdash.reports.model import ImplantRow, ImplantsReport

if TYPE_CHECKING:
    from regdash.dashboard.questions import Questions

COLUMNS = (
    Column("implant", "code", left=True),
    Column("joints", "joints"),
    Column("revised", "revised"),
    Column("expected", "expected"),
    Column("ratio", "ratio"),
    Column("95 % limits", left=True),
    Column("p", "p"),
    Column("per 100 y", "rate"),
    Column("95 % limits", left=True),
    Column("years", "years"),
    Column("class", "class", left=True),
    Column("role", "role", left=True),
    Column("hospitals", "hospitals"),
    Column("surgeons", "surgeons"),
    Column("first used", "first", left=True),
    Column("last used", "last", left=True),
)


class ImplantsScreen(Place):
    """Which implants are revised more often than others: a reason to look, no verdict."""

    ENTER = "its page"
    WITHOUT = ("view", "endpoint", "group", "horizon")
    answer: ImplantsReport | None

    def body(self) -> Iterable[Widget]:
        """Lay out what the tests are worth, and the list."""
        yield Line(id="title")
        yield Grid(id="implants", empty="no implants")

    def fetch(self, desk: Questions, asked: Asked) -> ImplantsReport:
        """Ask for every implant of the cohort."""
        return desk.implants(asked.cohort)

    def says_how(self, asked: Asked) -> str:
        """Nothing is grouped here."""
        return "each against all others of its class"

    def command(self) -> str:
        """The same question at the command line, where one implant is asked at a time."""
        row = self.query_one(Grid).current
        return f"regdash implant {row.value}" if row else "regdash implant CODE"

    def withheld(self) -> list[str]:
        """Name the implants whose rates are withheld."""
        return [f"{row.code}: {row.withheld}" for row in self.answer.rows if row.withheld] if self.answer else []

    def paint(self) -> None:
        """Show the list."""
        report = self.answer
        assert report is not None
        self.query_one("#title", Line).say(
            f" {report.tested:,} tested; were none different, about {report.expected_by_chance:.1f} "
            "would have p < 0.05 by chance alone"
        )
        self.query_one(Grid).show(COLUMNS, [implant_row(row) for row in report.rows])

    def on_grid_opened(self, message: Grid.Opened) -> None:
        """Open the page of an implant."""
        from regdash.dashboard.screens.implant import ImplantScreen

        if message.row is not None:
            self.app.push_screen(ImplantScreen(message.row.value, self.within, (*self.trail, message.row.value)))


def implant_row(row: ImplantRow) -> Row:
    """Lay out one implant."""
    return Row(
        (
            row.code,
            wording.count(row.joints),
            wording.count(row.revisions),
            wording.number(row.expected, 1),
            wording.number(row.rate_ratio),
            row.withheld or wording.limits(row.ratio_lower, row.ratio_upper),
            wording.p_value(row.p),
            wording.number(row.per_100_implant_years),
            "withheld" if row.withheld else wording.limits(row.lower, row.upper),
            wording.number(row.implant_years, 0),
            row.joint_class,
            row.role,
            wording.count(row.hospitals),
            wording.count(row.surgeons),
            row.first_used or wording.NO_FIGURE,
            row.last_used or wording.NO_FIGURE,
        ),
        row.code,
        (
            row.code,
            row.joints,
            row.revisions,
            row.expected,
            row.rate_ratio,
            None,
            row.p,
            row.per_100_implant_years,
            None,
            row.implant_years,
            row.joint_class,
            row.role,
            row.hospitals,
            row.surgeons,
            row.first_used,
            row.last_used,
        ),
    )
