"""What was done: primaries and revisions by year, quarter or month of the operation, group by group."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, ClassVar

from textual.binding import Binding
from textual.widget import Widget

from regdash.dashboard import wording
from regdash.dashboard.asked import Asked
from regdash.dashboard.screens.done_place import PERIOD_NAMES, DonePlace
from regdash.dashboard.widgets.grid import Column, Grid, Row
from regdash.dashboard.widgets.pane import Pane
from regdash.output.done_pages import change
from regdash.reports.done_groups import NO_PRIMARY
from regdash.reports.done_model import ActivityReport, ActivityRow, DoneHead

if TYPE_CHECKING:
    from regdash.dashboard.questions import Questions

ALL = "all"


class ActivityScreen(DonePlace):
    """Operations by when they were done, the latest first."""

    ENTER = "revisions, and why"
    WITHOUT = ("view", "endpoint", "horizon")
    BINDINGS: ClassVar = [
        Binding("tab", "group_step(1)", "next group"),
        Binding("shift+tab", "group_step(-1)", "group before", show=False),
        Binding("p", "period", "year or quarter"),
    ]
    OWN_KEYS: ClassVar = {
        "period": "count by year, by quarter or by month",
        "group": "group by fields of the primary; all of them together come first",
    }
    answer: tuple[ActivityReport, ActivityReport | None] | None

    def __init__(self, within: tuple[str, ...] = (), trail: tuple[str, ...] = ()) -> None:
        super().__init__(within, trail)
        self.group = 0  # number of the group that is looked at; 0: all together
        self.per = PERIOD_NAMES[0]

    def body(self) -> Iterable[Widget]:
        """Lay out the list."""
        yield Pane(id="periods", empty="no operations")

    # Ask

    def fetch(self, desk: Questions, asked: Asked) -> tuple[ActivityReport, ActivityReport | None]:
        """Ask for all joints together, then for the groups."""
        whole = desk.activity(asked.cohort, (), self.per)
        return whole, (desk.activity(asked.cohort, asked.by, self.per) if asked.by else None)

    @property
    def reports(self) -> list[tuple[ActivityReport, str]]:
        """Each group that can be looked at, with the report that has it."""
        whole, grouped = self.answer or (None, None)
        found = [(report, group.label) for report in (whole, grouped) if report for group in report.groups]
        return [(report, name) for n, (report, name) in enumerate(found) if name not in [o for _, o in found[:n]]]

    @property
    def report(self) -> ActivityReport | None:
        """The report with the group that is looked at."""
        return self.reports[self.group][0] if self.reports else (self.answer[0] if self.answer else None)

    def figures(self, desk: Questions) -> ActivityReport | None:
        """The answer whose figures are written out."""
        return self.report

    @property
    def done(self) -> DoneHead | None:
        """What the report in front says of itself."""
        return self.report.head if self.report else None

    def says_how(self, asked: Asked) -> str:
        """Say grouping and period."""
        return f"by {asked.by_text} · by {self.per} of the operation"

    def command(self) -> str:
        """The same question at the command line."""
        asked, report = self.asked or self.question, self.report
        by = f" --by {asked.by_text}" if report is not None and report.head.by and asked.by else ""
        per = "" if self.per == PERIOD_NAMES[0] else f" --per {self.per}"
        return f"regdash activity {wording.words_for_shell(asked.cohort.words)}{by}{per}".replace("  ", " ")

    def withheld(self) -> list[str]:
        """Say which burdens and changes are withheld."""
        rows = self.report.rows if self.report else ()
        burden = {f"burden: {row.withheld}": None for row in rows if row.withheld}
        return [*burden, *{f"change: {row.change_withheld}": None for row in rows if row.change_withheld}]

    # Paint

    def paint(self) -> None:
        """Show the group that is looked at, its latest period first."""
        self.group = min(self.group, max(0, len(self.reports) - 1))
        pane = self.query_one(Pane)
        if not self.reports:
            pane.grid.show(_columns(self.per), [])
            return
        report, name = self.reports[self.group]
        rows = [row for row in reversed(report.rows) if row.group == name]
        several = f"group {self.group + 1} of {len(self.reports)} " if len(self.reports) > 1 else ""
        pane.title(f"{name}: operations by {self.per} in which they were done", several)
        pane.grid.show(_columns(self.per), [_row(row) for row in rows])

    # Act

    def action_group_step(self, steps: int) -> None:
        """Look at another group."""
        if self.reports:
            self.group = (self.group + steps) % len(self.reports)
            self.paint()
            self.say_counts()

    def action_period(self) -> None:
        """Count by another period."""
        self.per = PERIOD_NAMES[(PERIOD_NAMES.index(self.per) + 1) % len(PERIOD_NAMES)]
        self.ask()

    def on_grid_opened(self, message: Grid.Opened) -> None:
        """Open the revisions of a period."""
        from regdash.dashboard.screens.revisions import RevisionsScreen

        row = message.row
        if row is None or not self.reports:
            return
        report, name = self.reports[self.group]
        if NO_PRIMARY in name:
            self.say("No filter words choose revisions without a primary here. Tab goes to all of them together.")
            return
        group = next(group for group in report.groups if group.label == name)
        names = [one for one in (name,) if one != ALL]
        self.app.push_screen(RevisionsScreen(self.narrower(group.words), (*self.trail, *names, "revisions"), row.value))


def _columns(per: str) -> list[Column]:
    return [
        Column(per, "period", left=True),
        Column("primaries", "primaries"),
        Column("change %", "primaries_change"),
        Column("revisions", "revisions"),
        Column("change %", "revisions_change"),
        Column("burden % (95 % limits)", "burden", left=True),
        Column("first", "first"),
        Column("later", "later"),
        Column("no primary", "unlinked"),
    ]


def _row(row: ActivityRow) -> Row:
    limits = wording.percent_limits(row.lower, row.upper)
    none = wording.NO_FIGURE if row.primaries is not None and row.revisions is not None else "withheld"
    burden = none if row.burden is None else f"{wording.percent(row.burden)} ({limits})"
    cells = (
        row.period,
        wording.count(row.primaries),
        change(row.primaries_change),
        wording.count(row.revisions),
        change(row.revisions_change),
        burden,
        wording.count(row.first),
        wording.count(row.later),
        wording.count(row.unlinked),
    )
    keys = (row.period, row.primaries, row.primaries_change, row.revisions, row.revisions_change, row.burden)
    return Row(cells, row.period, (*keys, row.first, row.later, row.unlinked))
