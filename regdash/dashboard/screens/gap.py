"""The difference in risk between two groups, reason by reason; the parts add up to it."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, ClassVar

from rich.text import Text
from textual.widget import Widget

from regdash.charts.ratios import LineAxis, difference_axis, difference_line
from regdash.dashboard import wording
from regdash.dashboard.asked import Asked
from regdash.dashboard.place import Place
from regdash.dashboard.widgets.grid import GAP, Column, Grid, Row, room_beside
from regdash.dashboard.widgets.line import Line
from regdash.reports.model import IMPLANT_VIEW, GapReport, GapRow, ShareRow
from regdash.vocabulary import coded

if TYPE_CHECKING:
    from regdash.dashboard.questions import Questions

LONGEST_REASON, SHORTEST_REASON = 22, 12
SHORTEST_AXIS = 12


class GapScreen(Place):
    """How much of the difference between two groups each reason makes."""

    ENTER = "joints"
    WITHOUT: ClassVar[tuple[str, ...]] = ()
    LOOKS_AT_FIRST = True
    answer: GapReport | None

    def body(self) -> Iterable[Widget]:
        """Lay out the title, why anything is withheld, and the list."""
        yield Line(id="title")
        yield Line(id="why")
        yield Grid(id="parts", empty="no revisions")

    # Ask

    def fetch(self, desk: Questions, asked: Asked) -> GapReport:
        """Ask for the gap at the horizon."""
        return desk.gap(asked.cohort, asked.by, asked.years, asked.view, endpoint=asked.endpoint)

    def says_how(self, asked: Asked) -> str:
        """Name the endpoint too, which the title has no room for."""
        return super().says_how(asked) + asked.endpoint_mark

    def command(self) -> str:
        """The same question at the command line."""
        asked = self.asked or self.question
        view = "" if asked.view == IMPLANT_VIEW else f" --view {asked.view}"
        words = wording.words_for_shell(asked.cohort.words)
        command = f"regdash gap {words} --by {asked.by_text} --years {asked.years:g}{view}{asked.endpoint_option}"
        return command.replace("  ", " ")

    def withheld(self) -> list[str]:
        """Say what is withheld of all parts alike."""
        return list(dict.fromkeys(row.withheld for row in self.answer.rows if row.withheld)) if self.answer else []

    # Paint

    def paint(self) -> None:
        """Show the parts by falling size, and the whole under them."""
        report = self.answer
        assert report is not None
        one, other = (group.label for group in report.groups)
        net = "deaths censored" if report.head.view == IMPLANT_VIEW else "death competing"
        title = Text(f" {one} less {other}: revised within {wording.years(report.years)}", style="bold")
        self.query_one("#title", Line).say(title.append(f"  ({net})", style="not bold"))
        why = self.query_one("#why", Line)
        why.display = bool(self.withheld())
        why.say(f" {next(iter(self.withheld()), '')}")
        self._paint_parts(report, one, other)

    def _paint_parts(self, report: GapReport, one: str, other: str) -> None:
        figures = (
            Column(f"{one} %", "one"),
            Column(f"{other} %", "other"),
            Column("points (95 % limits)", "difference"),
            Column("share %", "share", left=True),
        )
        shares = {share.reason: share for share in report.shares}
        cells = [_figures(row, shares.get(row.reason)) for row in report.rows]
        room = room_beside(self.size.width, figures, cells)
        longest = max(SHORTEST_REASON, min(LONGEST_REASON, room - GAP))
        width = room - longest - GAP
        axis = difference_axis([(row.difference, row.lower, row.upper) for row in report.rows])
        drawn = [Column(axis.header(width), left=True, width=width)] if width >= SHORTEST_AXIS else []
        columns = (Column("reason", "reason", left=True, width=longest), *figures, *drawn)
        rows = [_part(row, own, axis, width) for row, own in zip(report.rows, cells)]
        self.query_one(Grid).show(columns, rows)

    # Act

    def on_resize(self) -> None:
        """Draw the axis anew."""
        if self.answer is not None:
            self.call_after_refresh(self.paint)

    def on_grid_opened(self, message: Grid.Opened) -> None:
        """Open the joints of both groups that were revised for a reason, or for any."""
        from regdash.dashboard.screens.joints import JointsScreen

        if message.row is None or self.answer is None:
            return
        reason = message.row.value
        every = message.row is self.query_one(Grid).listed[-1] and reason == self.answer.rows[-1].reason
        words = (*self.within, "ended=revised", *(() if every else (f"reason={coded(reason)}",)))
        self.app.push_screen(JointsScreen(words, (*self.trail, self.listed_as(reason))))


def _figures(row: GapRow, share: ShareRow | None) -> tuple[str, ...]:
    limits = wording.percent_limits(row.lower, row.upper, 2)
    return (
        wording.percent(row.group_a, 2),
        wording.percent(row.group_b, 2),
        "withheld" if row.difference is None else f"{wording.percent(row.difference, 2)} ({limits})",
        _share(row, share),
    )


def _share(row: GapRow, share: ShareRow | None) -> str:
    if row.share is None:
        return "withheld"
    whole = wording.percent(row.share, 0)
    return whole if share is None else f"{whole} ({wording.percent_limits(share.lower, share.upper, 0)})"


def _part(row: GapRow, cells: tuple[str, ...], axis: LineAxis, width: int) -> Row:
    """Lay a part out; its line is drawn where there is room for it."""
    drawn = Text(difference_line((row.difference, row.lower, row.upper), axis, width))
    keys = (row.reason, row.group_a, row.group_b, row.difference, row.share, None)
    return Row((row.reason, *cells, drawn), row.reason, keys)
