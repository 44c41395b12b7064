"""Mortality after the primary operation by group: as the place on risk, with days, deaths and operations."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any, ClassVar

from rich.text import Text
from textual.binding import Binding

from regdash.dashboard import wording
from regdash.dashboard.asked import Asked
from regdash.dashboard.explain import explained_mortality
from regdash.dashboard.place import WIDE
from regdash.dashboard.screens.choices import HorizonPrompt
from regdash.dashboard.screens.risk import Axis, RiskScreen
from regdash.dashboard.widgets.grid import Column, Grid, Row
from regdash.endpoints import ANY_REVISION
from regdash.reports.model import IMPLANT_VIEW, Group
from regdash.reports.mortality import DEFAULT_DAYS, after, reading_days
from regdash.reports.mortality_model import MortalityHead, MortalityReport, MortalityRow

if TYPE_CHECKING:
    from regdash.dashboard.questions import Questions

DECIMALS = 2  # few in a thousand have died 90 days after an elective operation
BESIDE_NAME = len("a   operations  at risk   died  died %  10.00 to 10.00  ")  # columns beside the name of a group
BESIDE_FROM = 110  # columns from which the usual days stand beside the one that is read


class MortalityScreen(RiskScreen):
    """Of which groups more have died, by days since the operation."""

    ENTER = ""
    WITHOUT = ("view", "endpoint")
    BESIDE = False
    OWN_KEYS: ClassVar = {
        **RiskScreen.OWN_KEYS,
        "horizon": "years since the operation up to which mortality is drawn, here alone; a year at first",
        "mortality": "back to the risk of revision",
    }
    answer: Any  # a MortalityReport, which the place on risk paints as it does its own

    def __init__(self, within: tuple[str, ...] = (), trail: tuple[str, ...] = ()) -> None:
        super().__init__(within, trail)
        self.horizon = 1.0  # years; where revisions are looked at is too far for deaths after an operation

    # Ask

    @property
    def follows_beside(self) -> bool:
        """Two cohorts stand side by side here as they do a level up."""
        return not self.within

    @property
    def question(self) -> Asked:
        """The question of the place on risk, with a horizon of its own, and neither a view nor an endpoint."""
        return replace(super().question, years=self.horizon, view=IMPLANT_VIEW, endpoint=ANY_REVISION.key)

    def fetch(self, desk: Questions, asked: Asked) -> Any:
        """Ask for mortality at every time that may be read."""
        return desk.mortality(asked.cohort, asked.groups, reading_days(asked.years), beside=asked.beside)

    def fetch_more(self, desk: Questions, asked: Asked) -> None:
        """Nothing stands beside the table."""

    def figures(self, desk: Questions) -> Any:
        """Mortality by the usual days, and by the one that is read."""
        report = self.answer
        if report is None:
            return None
        rows = tuple(row for row in report.rows if row.days in self._told)
        return replace(report, days=self._told, rows=rows, curves=())

    def command(self) -> str:
        """The same question at the command line."""
        asked = self.asked or self.question
        words = wording.words_for_shell(asked.cohort.words)
        days = ",".join(map(str, self._told))
        return f"regdash mortality {words}{asked.groups_option} --days {days}".replace("  ", " ")

    @property
    def _told(self) -> tuple[int, ...]:
        """The usual days up to the horizon, and the one that is read."""
        return tuple(sorted({day for day in DEFAULT_DAYS if day <= self._days[-1]} | {self._day}))

    @property
    def _days(self) -> tuple[int, ...]:
        """The days that were asked for."""
        report: MortalityReport | None = self.answer
        return report.days if report else reading_days(self.horizon)

    @property
    def _day(self) -> int:
        """The one at which the table is read."""
        return self._days[self.answer.years.index(self.time)] if self.answer else self._days[-1]

    def withheld(self) -> list[str]:
        """Name the groups whose figures are withheld."""
        report, told = self.answer, self._told
        rows = [row for row in report.rows if row.days in told and row.withheld] if report else []
        return [f"{row.group} by {after(row.days)}: {row.withheld}" for row in rows]

    @property
    def _horizon(self) -> float:
        """Years at which curves end: those of the last whole day."""
        return self.answer.years[-1] if self.answer else self.horizon

    def active_keys(self) -> list[Binding]:
        """The key that leads here leads back."""
        return [replace(b, description="revisions") if b.action == "mortality" else b for b in super().active_keys()]

    def says_how(self, asked: Asked) -> str:
        """Say grouping and horizon."""
        return f"{asked.groups_said}to {wording.years(asked.years)}"

    # Paint

    @property
    def time(self) -> float:
        """Years at which the table is read: those of a day that was asked for."""
        there = self.answer is not None and self.at is not None and self.at in self.answer.years
        return self.at if there and self.at is not None else self._horizon

    def counted(self) -> list[str]:
        """The denominators of the painted answer."""
        if self.answer is None:
            return []
        head: MortalityHead = self.answer.head
        died = f"{wording.count(head.deaths)} followed by a death"
        parts = [wording.so_many(head.operations, "operation"), died, f"deaths to {head.deaths_known_through}"]
        if self.size.width >= WIDE:
            parts[1:1] = [wording.so_many(head.joints, "joint"), wording.so_many(head.patients, "patient")]
        return parts

    def _columns(self) -> tuple[Column, ...]:
        return (
            Column(f"by {after(self._day)}", "group", left=True),
            *([Column("operations", "operations")] if self._names_operations else []),
            *(Column(f"{after(day)} %", str(day)) for day in self._others),
            Column("at risk", "at risk"),
            Column("died", "died"),
            Column("died %", "mortality"),
        )

    @property
    def _names_operations(self) -> bool:
        """Whether all operations of a group have room beside its name; the chart has them too, at day 0."""
        longest = max((len(group.label) for group in self.answer.groups), default=0)
        return longest + BESIDE_NAME <= self.size.width

    @property
    def _others(self) -> tuple[int, ...]:
        """The usual days beside the one that is read, where there is room."""
        return tuple(day for day in self._told if day != self._day) if self.size.width >= BESIDE_FROM else ()

    def _row(self, row: Any, group: Group, place: int, joints: int | None, decimals: int) -> Row:
        own: MortalityRow = row
        beside = [self._estimate(own.group, day) for day in self._others]
        cells = (
            f"{self._letters.get(own.group, ' ')} {own.group}",
            *([wording.count(joints)] if self._names_operations else []),
            *(wording.percent(estimate, DECIMALS) for estimate in beside),
            wording.count(own.at_risk),
            wording.count(own.deaths),
            wording.percent(own.estimate, DECIMALS),
            own.withheld or wording.percent_limits(own.lower, own.upper, DECIMALS),
        )
        counted = [joints] if self._names_operations else []
        return Row(cells, group, (place, *counted, *beside, own.at_risk, own.deaths, own.estimate, None))

    def _estimate(self, group: str, day: int) -> float | None:
        return next((row.estimate for row in self.answer.rows if (row.group, row.days) == (group, day)), None)

    def _title(self, report: Any) -> Text:
        said = "  (1 − Kaplan–Meier of death)"
        return Text(f" {report.head.measure}, %", style="bold").append(said, style="not bold")

    def _axis(self) -> Axis:
        return {"days": self._horizon <= 1, "what": "operations"}

    # Act

    async def action_horizon(self) -> None:
        """Choose up to how many years, here alone."""

        def done(years: float | None) -> None:
            if years is not None:
                self.horizon, self.at = years, None
                self.say_where()
                self.ask_if_changed()

        await self.app.push_screen(HorizonPrompt(), done)

    def explain_answer(self) -> None:
        """Explain the figures."""
        if self.answer is not None:
            self.read_explained(explained_mortality(self.answer.head, self.withheld(), self.command()))

    def action_mortality(self) -> None:
        """Go back to the risk of revision."""
        self.action_back()

    def on_grid_opened(self, message: Grid.Opened) -> None:
        """Nothing is one level down."""
