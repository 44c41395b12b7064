"""Groups compared like for like: adjusted hazard ratios on a log axis, tests, and the model in a sentence."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, ClassVar

from rich.text import Text
from textual.binding import Binding
from textual.widget import Widget
from textual.widgets import Static

from regdash.charts.ratios import LineAxis, ratio_axis, ratio_line
from regdash.dashboard import wording
from regdash.dashboard.asked import WINDOWS, Asked
from regdash.dashboard.place import Place
from regdash.dashboard.widgets.grid import Column, Grid, Row, room_beside
from regdash.dashboard.widgets.line import Line
from regdash.reports.model import CompareReport, CompareRow, TestRow

if TYPE_CHECKING:
    from regdash.dashboard.questions import Questions

LONGEST_LABEL = 24
SHORTEST_AXIS = 12
SHORTEST_QUESTION = 20
TESTS = (Column("test", left=True), Column("chi-square"), Column("df"), Column("p"))


class CompareScreen(Place):
    """Whose joints are revised sooner, among joints that are alike."""

    ENTER = "reasons"
    WITHOUT = ("view", "horizon")
    BINDINGS: ClassVar = [Binding("a", "adjust", "adjust"), Binding("c", "curve", "curve")]
    OWN_KEYS: ClassVar = {"curve": "a curve: the hazard along a surgeon's volume, age or body mass index"}
    DEFAULT_CSS = """
    CompareScreen #tests { height: 6; }
    CompareScreen #model { height: auto; max-height: 6; padding: 0 1; }
    """
    answer: CompareReport | None

    def body(self) -> Iterable[Widget]:
        """Lay out the ratios, the tests and the model."""
        yield Line(id="title")
        yield Grid(id="ratios", empty="no groups to compare")
        yield Grid(id="tests", empty="no tests")
        yield Static(id="model", markup=False)

    # Ask

    def fetch(self, desk: Questions, asked: Asked) -> CompareReport:
        """Ask for ratios over all of follow-up and by window."""
        return desk.compare(asked.cohort, asked.by, asked.adjust, WINDOWS, endpoint=asked.endpoint)

    def says_how(self, asked: Asked) -> str:
        """Ratios are of all follow-up and of windows, and deaths are censored."""
        return f"by {asked.by_text} · adjusted for {asked.adjust_text}{asked.endpoint_mark}"

    def command(self) -> str:
        """The same question at the command line."""
        asked = self.asked or self.question
        words = wording.words_for_shell(asked.cohort.words)
        windows = ",".join(f"{years:g}" for years in WINDOWS)
        command = f"regdash compare {words} --by {asked.by_text} --adjust {asked.adjust_text} --windows {windows}"
        return f"{command}{asked.endpoint_option}".replace("  ", " ")

    def withheld(self) -> list[str]:
        """Name the ratios and tests that are withheld."""
        if self.answer is None:
            return []
        ratios = [
            f"{row.group}, {wording.window(row.from_years, row.to_years)}: {row.withheld}"
            for row in self.answer.rows
            if row.withheld
        ]
        return ratios + [f"{row.test}: {row.withheld}" for row in self.answer.tests if row.withheld]

    def also(self) -> list[tuple[str, str]]:
        """Tell the model."""
        return [("model", self.answer.model)] if self.answer else []

    # Paint

    def paint(self) -> None:
        """Show the ratios, the tests and the model."""
        report = self.answer
        assert report is not None
        title = Text(f" hazard ratio against {report.reference}", style="bold")
        self.query_one("#title", Line).say(title.append("  (deaths censored; log axis)", style="not bold"))
        self._paint_ratios(report)
        self._paint_tests(report)
        self.query_one("#model", Static).update(Text(_model(report)))

    def _paint_ratios(self, report: CompareReport) -> None:
        axis = ratio_axis([(row.hazard_ratio, row.lower, row.upper) for row in report.rows if row.withheld is None])
        longest = max((len(row.group) for row in report.rows), default=0)
        columns = (
            Column("group", "group", left=True, width=min(longest, LONGEST_LABEL)),
            Column("follow-up", "window", left=True),
            Column("ratio", "ratio"),
            Column("95 % limits", left=True),
            Column("p", "p"),
        )
        cells = [_figures(row) for row in report.rows]
        width = max(SHORTEST_AXIS, room_beside(self.size.width, columns, cells))
        places = {group.label: place for place, group in enumerate(report.groups)}
        self.query_one("#ratios", Grid).show(
            (*columns, Column(axis.header(width), left=True, width=width)),
            [_ratio(row, own, places[row.group], axis, width) for row, own in zip(report.rows, cells)],
        )

    def _paint_tests(self, report: CompareReport) -> None:
        cells = [_test(row) for row in report.tests]
        width = max(SHORTEST_QUESTION, room_beside(self.size.width, TESTS, cells))
        asks = [f"withheld: {row.withheld}" if row.withheld else row.asks for row in report.tests]
        tests = self.query_one("#tests", Grid)
        rows = [Row((*own, said), row.test) for row, own, said in zip(report.tests, cells, asks)]
        tests.show((*TESTS, Column("asks", left=True, width=width)), rows)
        tests.styles.height = len(rows) + 1

    # Act

    async def action_adjust(self) -> None:
        """Choose what is held alike."""
        await self.ask_adjustment()

    def action_curve(self) -> None:
        """Draw the hazard along a field of numbers."""
        from regdash.dashboard.screens.smooth import SmoothScreen

        self.app.push_screen(SmoothScreen(self.within, (*self.trail, "curve")))

    def on_resize(self) -> None:
        """Draw the axis anew."""
        if self.answer is not None:
            self.call_after_refresh(self.paint)

    def on_grid_opened(self, message: Grid.Opened) -> None:
        """Open the reasons of a group."""
        if message.row is None or message.grid.id != "ratios" or self.answer is None:
            return
        label = message.row.value[0]
        self.open_reasons(next(group for group in self.answer.groups if group.label == label))


def _figures(row: CompareRow) -> tuple[str, ...]:
    return (
        row.group,
        wording.window(row.from_years, row.to_years),
        wording.number(row.hazard_ratio),
        "withheld" if row.withheld else wording.limits(row.lower, row.upper),
        wording.p_value(row.p),
    )


def _ratio(row: CompareRow, cells: tuple[str, ...], place: int, axis: LineAxis, width: int) -> Row:
    drawn = Text(ratio_line((row.hazard_ratio, row.lower, row.upper), axis, width))
    return Row(
        (*cells, row.withheld or drawn),
        (row.group, row.from_years, row.to_years),
        (place, row.from_years, row.hazard_ratio, None, row.p, None),
    )


def _test(row: TestRow) -> tuple[str, ...]:
    figure = "withheld" if row.withheld else wording.number(row.statistic)
    return row.test, figure, wording.count(row.df), wording.p_value(row.p)


def _model(report: CompareReport) -> str:
    """The model, and how many joints are left out of it for what."""
    missing = (report.head.joints or 0) - (report.modelled or 0)
    counts = [(left.joints, left.field) for left in report.left_out]
    lacking = ", ".join(f"{wording.count(n)} {'has' if n == 1 else 'have'} no {field}" for n, field in counts)
    out = f"{wording.so_many(missing, 'joint')}; {lacking}" if missing else "no joint"
    return f"{report.model} Left out: {out}."
