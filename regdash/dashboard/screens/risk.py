"""Risk of revision by group: curves with limits, the joints at risk, and the figures at one time."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import TYPE_CHECKING, ClassVar, TypedDict

from rich.text import Text
from textual.binding import Binding
from textual.containers import Horizontal
from textual.widget import Widget

from regdash.charts.panels import panels_chart
from regdash.charts.step import LETTERS, MOST_WITH_LIMITS, in_view, risk_chart
from regdash.dashboard import wording
from regdash.dashboard.asked import Asked, reading_years
from regdash.dashboard.place import TALL, WIDE, Place
from regdash.dashboard.widgets.chart import Chart
from regdash.dashboard.widgets.grid import Column, Grid, Row, room_beside
from regdash.dashboard.widgets.line import Line
from regdash.dashboard.widgets.reasons_pane import ReasonsPane
from regdash.reports.model import IMPLANT_VIEW, Group, ReasonsReport, RiskReport, RiskRow

if TYPE_CHECKING:
    from regdash.dashboard.questions import Questions

SHORTEST_LIMITS = len("17.1 to 20.2")


class Axis(TypedDict, total=False):
    """What a chart is told of its axis."""

    days: bool
    what: str


class RiskScreen(Place):
    """Which groups last longer, and how sure that is."""

    ENTER = "reasons"
    SIDE_BY_SIDE = True
    BESIDE: ClassVar[bool] = True  # whether reasons stand beside the table where there is room
    BINDINGS: ClassVar = [
        Binding("left_square_bracket", "read(-1)", "read curve", show=False),
        Binding("right_square_bracket", "read(1)", "read"),
        Binding("m", "mortality", "mortality"),
        Binding("t", "panels", "panels"),
    ]
    OWN_KEYS: ClassVar = {
        "mortality": "mortality after the operation: by 30 and 90 days and a year, or for as long as y says",
        "panels": "a panel for each group, all on one scale, or all curves in one chart",
    }
    DEFAULT_CSS = """
    RiskScreen #bottom { height: 3; }
    RiskScreen Grid { width: 1fr; }
    RiskScreen #why { display: none; padding-left: 2; }
    RiskScreen.wide #bottom { height: 16; }
    RiskScreen.wide #why { display: block; }
    """
    answer: RiskReport | None

    def __init__(self, within: tuple[str, ...] = (), trail: tuple[str, ...] = ()) -> None:
        super().__init__(within, trail)
        self.reasons: ReasonsReport | None = None  # of the same groups, for screens with room beside the table
        self._letters: dict[str, str] = {}  # of the groups whose curves are drawn, where there are many
        self.at: float | None = None  # years at which the table is read; None: at the horizon
        self.panels = False  # whether each group has a chart of its own

    def body(self) -> Iterable[Widget]:
        """Lay out the title, the chart and the table."""
        yield Line(id="title")
        yield Chart(id="curves")
        with Horizontal(id="bottom"):
            yield Grid(id="groups", empty="no joints")
            yield ReasonsPane(id="why", empty="no revisions")

    def active_keys(self) -> list[Binding]:
        """The keys of a question come first, where there is not room for all, then another question, then a chart."""
        asking = ("read(1)", "filter", "group", "horizon", "view", "endpoint")
        last = {"mortality": 1, "panels": 3}
        return sorted(super().active_keys(), key=lambda b: last.get(b.action, 0 if b.action in asking else 2))

    # Ask

    def fetch(self, desk: Questions, asked: Asked) -> RiskReport:
        """Ask for the risk at every time that may be read."""
        times, second = reading_years(asked.years), asked.beside
        return desk.risk(asked.cohort, asked.groups, times, asked.view, endpoint=asked.endpoint, beside=second)

    def fetch_more(self, desk: Questions, asked: Asked) -> ReasonsReport | None:
        """Ask for the reasons too, where there is room beside the table."""
        wide = self.has_class("wide")
        if not wide:
            return None
        return desk.reasons(asked.cohort, asked.groups, asked.years, endpoint=asked.endpoint, beside=asked.beside)

    def figures(self, desk: Questions) -> RiskReport | None:
        """The risks at the time that is read."""
        return self.answer and replace(self.answer, years=(self.time,), rows=tuple(self._rows()), curves=())

    def command(self) -> str:
        """The same question at the command line."""
        asked = self.asked or self.question
        words = wording.words_for_shell(asked.cohort.words)
        view = "" if asked.view == IMPLANT_VIEW else f" --view {asked.view}"
        return f"regdash risk {words}{asked.groups_option} --years {self.time:g}{view}{asked.endpoint_option}".replace(
            "  ", " "
        )

    def withheld(self) -> list[str]:
        """Name the groups whose figures are withheld at the time that is read."""
        return [f"{row.group} at {wording.years(row.years)}: {row.withheld}" for row in self._rows() if row.withheld]

    def also(self) -> list[tuple[str, str]]:
        """Tell the method of the reasons beside the table."""
        return [("reasons", self.reasons.head.method)] if self.reasons else []

    # Paint

    @property
    def time(self) -> float:
        """Years at which the table is read."""
        report = self.answer
        return self.at if self.at is not None and report and self.at in report.years else self._horizon

    @property
    def _horizon(self) -> float:
        return (self.asked or self.question).years

    def _rows(self) -> list[RiskRow]:
        return [row for row in self.answer.rows if row.years == self.time] if self.answer else []

    def paint(self) -> None:
        """Show the table, and the curves with the group under the cursor in front."""
        self.reasons = None
        self.query_one(ReasonsPane).clear()
        self._paint_table()
        self._follow_table()

    def paint_more(self, answer: ReasonsReport) -> None:
        """Show the reasons of the group under the cursor."""
        self.reasons = answer
        self._paint_reasons()

    def _paint_reasons(self) -> None:
        row = self.query_one("#groups", Grid).current
        if self.reasons is not None and row is not None and row.value in self.reasons.groups:
            self.query_one(ReasonsPane).show(self.reasons, row.value, self.size.width // 2)

    def _paint_table(self) -> None:
        report = self.answer
        assert report is not None
        rows = self._rows()
        decimals = wording.decimals_for(row.estimate for row in rows)
        grid = self.query_one("#groups", Grid)
        columns = self._columns()
        joints = {curve.group: dict(curve.at_risk).get(0.0) for curve in report.curves}
        groups = {group.label: group for group in report.groups}
        order = {label: place for place, label in enumerate(groups)}
        shown = [self._row(row, groups[row.group], order[row.group], joints.get(row.group), decimals) for row in rows]
        # Limits are never out of view: why one is withheld is cut, and x tells it whole.
        beside = room_beside(grid.size.width or self.size.width, columns, [row.cells for row in shown])
        longest = max((len(str(row.cells[-1])) for row in shown), default=0)
        limits = Column("95 % limits", left=True, width=max(SHORTEST_LIMITS, min(longest, beside)))
        grid.show((*columns, limits), shown)
        if not self.has_class("wide"):
            lines = min(max(1, len(rows)), max(3, self.size.height // 5)) + 1
            self.query_one("#bottom").styles.height = lines

    def _columns(self) -> tuple[Column, ...]:
        """The columns before the limits."""
        return (
            Column(f"at {wording.years(self.time)}", "group", left=True),
            Column("joints", "joints"),
            Column("at risk", "at risk"),
            Column("revised", "revised"),
            Column("risk %", "risk"),
        )

    def _row(self, row: RiskRow, group: Group, place: int, joints: int | None, decimals: int) -> Row:
        """One row of the table, its limits or why there are none last; `place` is that of its group."""
        cells = (
            f"{self._letters.get(row.group, ' ')} {row.group}",
            wording.count(joints),
            wording.count(row.at_risk),
            wording.count(row.revisions),
            wording.percent(row.estimate, decimals),
            row.withheld or wording.percent_limits(row.lower, row.upper, decimals),
        )
        return Row(cells, group, (place, joints, row.at_risk, row.revisions, row.estimate, None))

    def _follow_table(self) -> None:
        """Draw the page of curves that the cursor is on, in the order of the table, and letter the table by it."""
        grid = self.query_one("#groups", Grid)
        order = [row.value.label for row in grid.listed]
        drawn = in_view(order, grid.current.value.label if grid.current else None)
        letters = {order[place]: letter for place, letter in zip(drawn, LETTERS, strict=False)}
        if letters != self._letters:
            self._letters = letters
            self._paint_table()
        self._paint_curves()

    def _paint_curves(self) -> None:
        report, time = self.answer, self.time
        if report is None:
            return
        row = self.query_one("#groups", Grid).current
        # Few curves look the same whichever is in focus, so moving among them costs no repaint.
        focus = row.value.label if row and (self.panels or len(report.groups) > MOST_WITH_LIMITS) else None
        horizon = self._horizon
        at = None if time == horizon else time
        self.query_one("#title", Line).say(self._title(report))
        curves = {curve.group: curve for curve in report.curves}
        drawn = replace(report, curves=tuple(curves[group] for group in self._letters))
        draw = panels_chart if self.panels else risk_chart
        self.query_one("#curves", Chart).show(
            (self.generation, tuple(self._letters), focus, at, self.panels),
            lambda width, height: draw(drawn, width, height, focus, at, **self._axis()),
        )

    def _title(self, report: RiskReport) -> Text:
        """What the curves are of."""
        net = "deaths censored" if report.head.view == IMPLANT_VIEW else "death competing"
        return Text(f" {report.head.measure}, %", style="bold").append(
            f"  ({report.head.view} view: {net}) · endpoint {report.head.endpoint}", style="not bold"
        )

    def _axis(self) -> Axis:
        """How the chart names its axis and what is at risk; as `risk_chart` takes it."""
        return {}

    # Act

    def on_resize(self) -> None:
        """Make room for the reasons beside the table."""
        wide = self.BESIDE and self.size.width >= WIDE and self.size.height >= TALL
        if wide != self.has_class("wide"):
            self.set_class(wide, "wide")
            self.query_one("#bottom").styles.height = None
            if self.answer is not None:
                self.ask()

    def on_grid_moved(self, message: Grid.Moved) -> None:
        """Bring the curve of the group under the cursor to the front, and its reasons beside it."""
        if message.grid.id == "groups" and self.answer is not None:
            self._follow_table()
            self._paint_reasons()

    def on_grid_ordered(self, message: Grid.Ordered) -> None:
        """Draw the curves in the order of the table."""
        if message.grid.id == "groups":
            self._follow_table()

    def on_grid_opened(self, message: Grid.Opened) -> None:
        """Open the reasons of a group, or the joints behind a reason."""
        if message.row is None:
            return
        if message.grid.id == "groups":
            self.open_reasons(message.row.value)
        else:
            self.open_reason(*message.row.value)

    def action_mortality(self) -> None:
        """Show the mortality of the same groups."""
        from regdash.dashboard.screens.mortality import MortalityScreen

        self.app.push_screen(MortalityScreen(self.within, (*self.trail, "mortality")))

    def action_panels(self) -> None:
        """Give each group a chart of its own, all on one scale, or draw all curves in one."""
        self.panels = not self.panels
        self._paint_curves()

    def action_read(self, steps: int) -> None:
        """Move along the curves; the table gives the figures there."""
        if self.answer is None:
            return
        times = list(self.answer.years)
        at = times.index(self.time) if self.time in times else len(times) - 1
        self.at = times[max(0, min(at + steps, len(times) - 1))]
        self.paint()
