"""Why joints are revised: each reason's cumulative incidence with limits, group by group, and through time."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from rich.text import Text
from textual.binding import Binding
from textual.containers import Horizontal
from textual.events import Resize
from textual.widget import Widget

from regdash.charts.bars import limits_bar
from regdash.charts.step import MOST_CURVES, letter_of, reasons_chart
from regdash.dashboard import wording
from regdash.dashboard.asked import Asked
from regdash.dashboard.place import WIDE, Place
from regdash.dashboard.widgets.chart import Chart
from regdash.dashboard.widgets.grid import Column, Grid, Row
from regdash.dashboard.widgets.pane import Pane
from regdash.reports.model import Group, ReasonRow, ReasonsReport
from regdash.vocabulary import coded

if TYPE_CHECKING:
    from regdash.dashboard.questions import Questions

BESIDE_BAR = 65  # columns that the figures beside a bar take
CHART_FROM = 12  # lines that must be left over before the reasons are drawn through time


class ReasonsScreen(Place):
    """One group's reasons at a time, two side by side where there is room."""

    PLACE = "reasons"
    ENTER = "joints"
    WITHOUT = ("view",)
    BINDINGS = [
        Binding("tab", "group_step(1)", "next group"),
        Binding("shift+tab", "group_step(-1)", "group before", show=False),
    ]
    DEFAULT_CSS = """
    ReasonsScreen Horizontal { height: 1fr; }
    """
    answer: ReasonsReport | None

    def __init__(self, within: tuple[str, ...] = (), trail: tuple[str, ...] = ()) -> None:
        super().__init__(within, trail)
        self.group = 0  # number of the group that is looked at

    def body(self) -> Iterable[Widget]:
        """Lay out two lists, the second for wide screens, and a chart for high ones."""
        with Horizontal(id="lists"):
            yield Pane(id="first", empty="no revisions")
            yield Pane(id="second", empty="no revisions")
        yield Chart(id="through-time")

    # Ask

    def fetch(self, desk: Questions, asked: Asked) -> ReasonsReport:
        """Ask for the reasons of every group at the horizon."""
        return desk.reasons(asked.cohort, asked.by, asked.years)

    def says_how(self, asked: Asked) -> str:
        """Single reasons compete, so there is one view."""
        return f"by {asked.by_text} · {wording.years(asked.years)} · patient view"

    def command(self) -> str:
        """The same question at the command line."""
        asked = self.asked or self.question
        by = f" --by {asked.by_text}" if asked.by else ""
        return f"regdash reasons {wording.words_for_shell(asked.cohort.words)}{by} --years {asked.years:g}"

    def withheld(self) -> list[str]:
        """Name the groups whose incidences are withheld."""
        found = {row.group: row.withheld for row in self.answer.rows if row.withheld} if self.answer else {}
        return [f"{group}: {why}" for group, why in found.items()]

    # Paint

    @property
    def _in_view(self) -> list[Group]:
        """The groups on the screen, the one looked at among them."""
        groups = self.answer.groups if self.answer else ()
        room = 2 if self.size.width >= WIDE else 1
        first = max(0, min(self.group, len(groups) - room))
        return list(groups[first : first + room])

    def paint(self) -> None:
        """Show the groups that fit, and the chart of the one looked at."""
        report = self.answer
        assert report is not None
        self.group = min(self.group, max(0, len(report.groups) - 1))
        groups = self._in_view
        for pane, group in zip(self.query(Pane), [*groups, None, None], strict=False):
            pane.display = group is not None or pane.id == "first"
            self._paint_pane(pane, group)
        lines = max((len(self._rows(group)) for group in groups), default=0) + 2
        self.query_one("#lists").styles.height = "1fr" if self._room - lines < CHART_FROM else lines
        self.query_one(Chart).display = self._room - lines >= CHART_FROM
        self._paint_chart()

    @property
    def _room(self) -> int:
        return self.query_one("#body").size.height

    def _rows(self, group: Group) -> list[ReasonRow]:
        return [row for row in self.answer.rows if row.group == group.label] if self.answer else []

    def _paint_pane(self, pane: Pane, group: Group | None) -> None:
        report = self.answer
        if group is None or report is None:
            pane.grid.show((), [])
            return
        number = report.groups.index(group) + 1
        step = f"group {number} of {len(report.groups)} " if len(report.groups) > 1 else ""
        withheld = next((row.withheld for row in self._rows(group) if row.withheld), None)
        said = f"{group.label}: revised for each reason within {wording.years(report.years)}"
        pane.title(f"{said} – {withheld}" if withheld else said, step)
        width = (self.size.width // 2 if self.size.width >= WIDE else self.size.width) - BESIDE_BAR
        largest = max((row.upper or row.incidence or 0.0 for row in report.rows), default=0.0)
        columns = (
            Column("reason", "reason", left=True, width=22),
            Column("%", "incidence"),
            Column("95 % limits", left=True, width=12),
            Column(f"0 to {100 * largest:.1f} %", left=True, width=max(8, width)),
            Column("revised", "revised"),
            Column("share %"),
        )
        drawn = [row.reason for row in self._rows(group)]
        rows = [self._row(row, group, drawn, largest, max(8, width)) for row in self._rows(group)]
        pane.grid.show(columns, rows)

    def _row(self, row: ReasonRow, group: Group, drawn: list[str], largest: float, width: int) -> Row:
        letter = letter_of(drawn[:MOST_CURVES], row.reason, None) if self._has_chart else ""
        return Row(
            (
                f"{letter} {row.reason}" if letter else row.reason,
                wording.percent(row.incidence, 2) or "–",
                wording.percent_limits(row.lower, row.upper, 2) or ("withheld" if row.withheld else ""),
                Text(limits_bar(row.incidence, row.lower, row.upper, largest, width)),
                wording.count(row.revisions),
                wording.percent(row.share, 0),
            ),
            (group, row.reason),
            (row.reason, row.incidence, None, None, row.revisions, row.share),
        )

    @property
    def _has_chart(self) -> bool:
        return self._room - (len(self.answer.rows) if self.answer else 0) >= CHART_FROM

    def _paint_chart(self) -> None:
        report, chart = self.answer, self.query_one(Chart)
        if report is None or not report.groups or not chart.display:
            return
        group = report.groups[self.group].label
        row = self._pane_of_group().grid.current
        focus = row.value[1] if row else None
        chart.show(
            (self.generation, group, focus),
            lambda width, height: reasons_chart(report, group, width, height, focus),
        )

    def _pane_of_group(self) -> Pane:
        groups = self._in_view
        at = groups.index(self.answer.groups[self.group]) if self.answer and groups else 0
        return list(self.query(Pane))[at]

    # Act

    def on_resize(self, event: Resize) -> None:
        """Lay the lists out anew."""
        if self.answer is not None:
            self.call_after_refresh(self.paint)

    def on_grid_moved(self) -> None:
        """Draw the reason under the cursor in front."""
        self._paint_chart()

    def action_group_step(self, steps: int) -> None:
        """Look at another group."""
        if self.answer and self.answer.groups:
            self.group = (self.group + steps) % len(self.answer.groups)
            self.paint()
            self._pane_of_group().grid.focus()

    def on_grid_opened(self, message: Grid.Opened) -> None:
        """Open the joints that were revised for a reason."""
        from regdash.dashboard.screens.joints import JointsScreen

        if message.row is None:
            return
        group, reason = message.row.value
        words = (*self.narrower(group.words), "ended=revised", f"reason={coded(reason)}")
        names = [name for name in (group.label, reason) if name not in (*self.trail, "all")]
        self.app.push_screen(JointsScreen(words, (*self.trail, *names)))
