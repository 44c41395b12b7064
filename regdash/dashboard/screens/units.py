"""Hospitals and surgeons: joints, risk and volume of each, in the order of their codes."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, ClassVar

from rich.text import Text
from textual.binding import Binding
from textual.widget import Widget

from regdash.dashboard import wording
from regdash.dashboard.asked import Asked
from regdash.dashboard.jumping import Jumping
from regdash.dashboard.widgets.grid import Column, Grid, Row
from regdash.dashboard.widgets.line import Line
from regdash.reports.model import IMPLANT_VIEW, Group
from regdash.reports.unit_profile import HOSPITALS, KINDS, ProfilesReport, UnitProfile

if TYPE_CHECKING:
    from regdash.dashboard.questions import Questions


class UnitsScreen(Jumping):
    """What each hospital or surgeon does, and how its primaries last: no finding about any of them."""

    ENTER = "beside all others"
    WITHOUT = ("group",)
    BINDINGS: ClassVar = [
        Binding("tab", "other_kind", "hospitals, surgeons"),
        Binding("shift+tab", "other_kind", show=False),
    ]
    answer: ProfilesReport | None

    def __init__(self) -> None:
        super().__init__()
        self.kind = HOSPITALS
        self._listed = HOSPITALS  # the kind that is listed
        self._left: dict[str, Group] = {}  # where the cursor was in the list of each kind

    def body(self) -> Iterable[Widget]:
        """Lay out which list it is, and the list."""
        yield Line(id="title")
        yield Grid(id="units", empty="no joints")

    # Ask

    def fetch(self, desk: Questions, asked: Asked) -> ProfilesReport:
        """Ask for every unit of the cohort."""
        return desk.profiles(self.kind, asked.cohort, asked.years, asked.view, endpoint=asked.endpoint)

    def says_how(self, asked: Asked) -> str:
        """Say at which time and in which view risks are."""
        return f"risk at {wording.years(asked.years)} · {asked.view} view{asked.endpoint_mark}"

    def command(self) -> str:
        """The same question at the command line."""
        asked = self.asked or self.question
        view = "" if asked.view == IMPLANT_VIEW else f" --view {asked.view}"
        words = wording.words_for_shell(asked.cohort.words)
        command = f"regdash units {self.kind} {words} --years {asked.years:g}{view}{asked.endpoint_option}"
        return command.replace("  ", " ")

    def withheld(self) -> list[str]:
        """Name the units whose figures are withheld."""
        if self.answer is None:
            return []
        risks = [
            f"{row.group} at {wording.years(row.years)}: {row.withheld}" for row in self.answer.rows if row.withheld
        ]
        return risks + [f"{row.group}, rate: {row.rate_withheld}" for row in self.answer.rows if row.rate_withheld]

    # Paint

    def paint(self) -> None:
        """Show the list of one kind, the cursor where it was in it."""
        report = self.answer
        assert report is not None
        names = "  ".join(kind.upper() if kind == report.kind else kind for kind in KINDS)
        self.query_one("#title", Line).say(
            Text(f" {names}", style="bold"), f"{len(report.rows):,} in the order of codes "
        )
        grid = self.query_one(Grid)
        decimals = wording.decimals_for(row.estimate for row in report.rows)
        pairs = zip(report.groups, report.rows, strict=True)
        grid.show(_columns(report), [_row(n, group, row, decimals) for n, (group, row) in enumerate(pairs)])
        if report.kind != self._listed:
            left = self._left.get(report.kind)
            grid.cursor = next((n for n, row in enumerate(grid.listed) if row.value == left), 0)
        self._listed = report.kind

    # Act

    def action_other_kind(self) -> None:
        """Go to the other list; each keeps its cursor."""
        row = self.query_one(Grid).current
        if row is not None:
            self._left[self._listed] = row.value
        self.kind = next(kind for kind in KINDS if kind != self.kind)
        self.ask()

    def on_grid_opened(self, message: Grid.Opened) -> None:
        """Open the risk of one unit beside that of all others."""
        from regdash.dashboard.screens.unit import UnitScreen

        if message.row is None:
            return
        group: Group = message.row.value
        code = group.label.rpartition(", ")[2]
        joints = tuple(word for word in self.narrower(group.words) if word.startswith("joint="))
        self.app.push_screen(UnitScreen(self.kind, code, joints, (*self.trail, group.label)))


def _columns(report: ProfilesReport) -> tuple[Column, ...]:
    return (
        Column(KINDS[report.kind], "unit", left=True),
        Column("joints", "joints"),
        Column("last 365 d", "volume"),
        Column("revised", "revised"),
        Column("risk %", "risk"),
        Column("95 % limits", left=True),
        Column("at risk", "at risk"),
        Column("per 100 y", "rate"),
        Column("95 % limits", left=True),
        Column("partial %", "partial"),
        Column("patients", "patients"),
        Column("complete %", "complete"),
        Column("years", "years"),
        Column("first", "first", left=True),
        Column("last", "last", left=True),
    )


def _row(place: int, group: Group, row: UnitProfile, decimals: int) -> Row:
    return Row(
        (
            row.group,
            wording.count(row.joints),
            wording.count(row.joints_last_365_days),
            wording.count(row.revisions),
            wording.percent(row.estimate, decimals),
            "withheld" if row.withheld else wording.percent_limits(row.lower, row.upper, decimals),
            wording.count(row.at_risk),
            wording.number(row.per_100_implant_years),
            "withheld" if row.rate_withheld else wording.limits(row.rate_lower, row.rate_upper),
            wording.percent(row.partial_share),
            wording.count(row.patients),
            wording.percent(row.completeness) + (" over" if row.is_over else ""),
            wording.number(row.implant_years, 0),
            row.first_date or wording.NO_FIGURE,
            row.last_date or wording.NO_FIGURE,
        ),
        group,
        (
            place,
            row.joints,
            row.joints_last_365_days,
            row.revisions,
            row.estimate,
            None,
            row.at_risk,
            row.per_100_implant_years,
            None,
            row.partial_share,
            row.patients,
            row.completeness,
            row.implant_years,
            row.first_date,
            row.last_date,
        ),
    )
