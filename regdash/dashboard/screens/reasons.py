"""Why joints are revised: each reason's cumulative incidence with limits, group by group, and through time."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, ClassVar

from rich.text import Text
from textual.binding import Binding
from textual.containers import Horizontal
from textual.widget import Widget

from regdash.charts.stacked import stacked_chart
from regdash.charts.step import reading, reasons_chart
from regdash.dashboard import wording
from regdash.dashboard.asked import Asked, reading_years
from regdash.dashboard.place import WIDE, Place
from regdash.dashboard.widgets.chart import Chart
from regdash.dashboard.widgets.grid import Grid
from regdash.dashboard.widgets.line import Line
from regdash.dashboard.widgets.reasons_pane import ReasonsPane
from regdash.reports.model import Group, ReasonsReport
from regdash.vocabulary import NOT_RECORDED

if TYPE_CHECKING:
    from regdash.dashboard.questions import Questions

CHART_FROM = 12  # lines that must be left over before the reasons are drawn through time


class ReasonsScreen(Place):
    """One group's reasons at a time, two side by side where there is room."""

    ENTER = "joints"
    SIDE_BY_SIDE = True
    WITHOUT = ("view",)
    BINDINGS: ClassVar = [
        Binding("d", "gap", "difference"),
        Binding("tab", "group_step(1)", "next group"),
        Binding("shift+tab", "group_step(-1)", "group before", show=False),
        Binding("left_square_bracket", "read(-1)", "read curve", show=False),
        Binding("right_square_bracket", "read(1)", "read"),
        Binding("t", "stack", "stack"),
        Binding("p", "done", "done in a year"),
    ]
    OWN_KEYS: ClassVar = {
        "read(1)": "move along the curves; the names beside them give the values at that time",
        "done": "the revisions that were done in a year, by their own date, beside those of five years before",
        "stack": "reasons one on the other, so that the top is all of them, or each by itself",
    }
    DEFAULT_CSS = """
    ReasonsScreen Horizontal { height: 1fr; }
    """
    answer: ReasonsReport | None

    def __init__(self, within: tuple[str, ...] = (), trail: tuple[str, ...] = ()) -> None:
        super().__init__(within, trail)
        self.group = 0  # number of the group that is looked at
        self.at: float | None = None  # years at which the chart is read; None: at the horizon
        self.stacked = False  # whether the chart lays reasons one on the other

    def body(self) -> Iterable[Widget]:
        """Lay out two lists, the second for wide screens, and a chart for high ones."""
        with Horizontal(id="lists"):
            yield ReasonsPane(id="first", empty="no revisions")
            yield ReasonsPane(id="second", empty="no revisions")
        yield Line(id="chart-title")
        yield Chart(id="through-time")

    def active_keys(self) -> list[Binding]:
        """The keys of a question come before those of a chart, where there is not room for all."""
        return sorted(super().active_keys(), key=lambda binding: binding.action in ("read(1)", "stack", "done"))

    # Ask

    def fetch(self, desk: Questions, asked: Asked) -> ReasonsReport:
        """Ask for the reasons of every group at the horizon."""
        return desk.reasons(asked.cohort, asked.groups, asked.years, endpoint=asked.endpoint, beside=asked.beside)

    def says_how(self, asked: Asked) -> str:
        """Single reasons compete, so there is one view."""
        return f"{asked.groups_said}{wording.years(asked.years)} · patient view{asked.endpoint_mark}"

    def command(self) -> str:
        """The same question at the command line."""
        asked = self.asked or self.question
        words = wording.words_for_shell(asked.cohort.words)
        return f"regdash reasons {words}{asked.groups_option} --years {asked.years:g}{asked.endpoint_option}"

    def withheld(self) -> list[str]:
        """Name the groups whose incidences are withheld."""
        found = {row.group: row.withheld for row in self.answer.rows if row.withheld} if self.answer else {}
        return [f"{group}: {why}" for group, why in found.items()]

    def also(self) -> list[tuple[str, str]]:
        """Tell which figures go on beyond the horizon."""
        years = wording.years((self.asked or self.question).years)
        return [("ever, share %", f"revisions over all follow-up, and their shares; % is of joints within {years}")]

    # Paint

    @property
    def _in_view(self) -> list[Group]:
        """The groups on the screen, the one looked at among them."""
        groups = self.answer.groups if self.answer else ()
        room = 2 if self.size.width >= WIDE else 1
        first = max(0, min(self.group, len(groups) - room))
        return list(groups[first : first + room])

    def paint(self) -> None:
        """Show the groups that fit, and the chart of the one looked at where there is room for it."""
        report = self.answer
        assert report is not None
        self.group = min(self.group, max(0, len(report.groups) - 1))
        groups = self._in_view
        lines = max((sum(row.group == group.label for row in report.rows) for group in groups), default=0) + 2
        has_chart = self.query_one("#body").size.height - lines >= CHART_FROM
        width = self.size.width // 2 if self.size.width >= WIDE else self.size.width
        for n, pane in enumerate(self.query(ReasonsPane)):
            pane.display = n < max(1, len(groups))
            if n < len(groups):
                pane.show(report, groups[n], width, letters=has_chart)
            else:
                pane.clear()
        self.query_one("#lists").styles.height = lines if has_chart else "1fr"
        self.query_one(Chart).display = self.query_one("#chart-title").display = has_chart
        self._paint_chart()

    def _paint_chart(self) -> None:
        report, chart = self.answer, self.query_one(Chart)
        if report is None or not report.groups or not chart.display:
            return
        group = report.groups[self.group].label
        row = self._pane_of_group().grid.current
        focus = row.value[1] if row else None
        kind = "stacked, the top is all reasons" if self.stacked else "each reason by itself"
        title = Text(f" {group}: cumulative incidence by reason, %", style="bold").append(f"  ({kind})", "not bold")
        self.query_one("#chart-title", Line).say(title)
        draw, at = stacked_chart if self.stacked else reasons_chart, self._read_at
        chart.show(
            (self.generation, group, focus, at, self.stacked),
            lambda width, height: draw(report, group, width, height, focus, at),
        )

    @property
    def _read_at(self) -> float | None:
        """Years at which the chart is read, where that is not at its end."""
        return self.at if self.answer and self.at in reading_years(self.answer.years)[:-1] else None

    def _pane_of_group(self) -> ReasonsPane:
        groups = self._in_view
        at = groups.index(self.answer.groups[self.group]) if self.answer and groups else 0
        return list(self.query(ReasonsPane))[at]

    # Act

    def on_resize(self) -> None:
        """Lay the lists out anew."""
        if self.answer is not None:
            self.call_after_refresh(self.paint)

    def on_grid_moved(self) -> None:
        """Draw the reason under the cursor in front."""
        self._paint_chart()
        if self._read_at is not None:
            self._say_reading()

    def action_group_step(self, steps: int) -> None:
        """Look at another group."""
        if self.answer and self.answer.groups:
            self.group = (self.group + steps) % len(self.answer.groups)
            self.paint()
            self._pane_of_group().grid.focus()

    def action_read(self, steps: int) -> None:
        """Move along the curves; the names beside them give the values there."""
        if self.answer is None or not self.query_one(Chart).display:
            self.say("A screen with more lines has curves to read here; place 2 has them at any size.")
            return
        times = list(reading_years(self.answer.years))
        at = times.index(self._read_at) if self._read_at is not None else len(times) - 1
        self.at = times[max(0, min(at + steps, len(times) - 1))]
        self._paint_chart()
        self._say_reading()

    def _say_reading(self) -> None:
        """Say the incidence of the reason under the cursor at the time that is read, with its limits."""
        row, at = self._pane_of_group().grid.current, self._read_at
        report = self.answer
        if report is None or row is None or at is None:
            self.say()
            return
        group, reason = row.value
        curves = next((curves for name, curves in report.curves if name == group.label), ())
        curve = next((curve for curve in curves if curve.group == reason), None)
        read = curve and reading(curve, at)
        if read:
            estimate, lower, upper = read
            limits = wording.percent_limits(lower, upper, 2)
            self.say(f"at {wording.years(at)}: {reason} {wording.percent(estimate, 2)} % ({limits})")
        else:
            self.say(f"at {wording.years(at)}: {reason} is not drawn that far")

    def action_stack(self) -> None:
        """Lay the reasons one on the other, or draw each by itself."""
        if not self.query_one(Chart).display:
            self.say("A screen with more lines has a chart of reasons here.")
            return
        self.stacked = not self.stacked
        self._paint_chart()

    def action_gap(self) -> None:
        """Open the difference between two groups, reason by reason."""
        from regdash.dashboard.screens.gap import GapScreen

        if self.question.beside is not None:
            self.say("Two cohorts may share joints, so their difference is not split. g makes groups that do not.")
            return
        groups = [g.label for g in self.answer.groups if NOT_RECORDED not in g.label] if self.answer else []
        if len(groups) == 2:
            self.app.push_screen(GapScreen(self.within, (*self.trail, "difference")))
        else:
            self.say(f"A difference is between two groups, and there are {len(groups)}. Filter until two are left.")

    def action_done(self) -> None:
        """Open the revisions of a year, by their own date, of the group that is looked at."""
        from regdash.dashboard.screens.revisions import RevisionsScreen

        if self.answer is None or not self.answer.groups:
            return
        group = self.answer.groups[self.group]
        names = [name for name in (group.label,) if name not in (*self.trail, "all")]
        place = RevisionsScreen(self.narrower(group.words), (*self.trail, *names, "done in a year"))
        place.of_second = self._is_second(group.words)
        self.app.push_screen(place)

    def on_grid_opened(self, message: Grid.Opened) -> None:
        """Open the joints that were revised for a reason."""
        if message.row is not None:
            self.open_reason(*message.row.value)
