"""The hazard along a field of numbers: a curve of ratios with limits, its counts, and whether it bends."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, ClassVar

from rich.text import Text
from textual.binding import Binding
from textual.widget import Widget

from regdash.charts.curve import smooth_chart
from regdash.dashboard import wording
from regdash.dashboard.asked import Asked
from regdash.dashboard.place import Place
from regdash.dashboard.widgets.chart import Chart
from regdash.dashboard.widgets.grid import Column, Grid, Row, room_beside
from regdash.dashboard.widgets.line import Line
from regdash.reports.smooth_model import SmoothReport, SmoothRow

if TYPE_CHECKING:
    from regdash.cohort import Cohort
    from regdash.dashboard.questions import Questions

FIELDS = ("volume", "age", "bmi")  # in the order in which a key goes through them
FEWEST_ROWS, SHORTEST_WHY = 6, 12


class SmoothScreen(Place):
    """How sooner or later joints are revised along volume, age or body mass index."""

    ENTER = "reference"
    WITHOUT = ("view", "horizon", "group")
    LOOKS_AT_FIRST = True
    BINDINGS: ClassVar = [
        Binding("c", "field", "field"),
        Binding("a", "adjust", "adjust"),
        Binding("left_square_bracket", "read(-1)", "read curve", show=False),
        Binding("right_square_bracket", "read(1)", "read"),
    ]
    OWN_KEYS: ClassVar = {
        "field": "the curve along the next field: volume, age, bmi",
        "read(1)": "move along the curve; the list's cursor does it too",
    }
    DEFAULT_CSS = "SmoothScreen #values { height: 8; }"
    answer: SmoothReport | None

    def __init__(self, within: tuple[str, ...] = (), trail: tuple[str, ...] = ()) -> None:
        super().__init__(within, trail)
        self.over = FIELDS[0]
        self._reference: tuple[Cohort, float] | None = None  # chosen for these joints; else their median
        self._shown: SmoothReport | None = None  # the answer in the list

    def body(self) -> Iterable[Widget]:
        """Lay out the title, the curve, the list of values and the tests."""
        yield Line(id="title")
        yield Chart(id="curve")
        yield Grid(id="values", empty="no joints")
        yield Line(id="tests")

    # Ask

    def fetch(self, desk: Questions, asked: Asked) -> SmoothReport:
        """Ask for the curve along the chosen field."""
        return desk.smooth(asked.cohort, self.over, asked.adjust, self._chosen(asked), endpoint=asked.endpoint)

    def _chosen(self, asked: Asked) -> float | None:
        """The reference that was chosen; another cohort has its own median."""
        cohort, value = self._reference or (None, None)
        return value if cohort == asked.cohort else None

    def says_how(self, asked: Asked) -> str:
        """Name the field, and what is held alike."""
        held = ",".join(str(grouping) for grouping in asked.adjust if grouping.field.key != self.over) or "none"
        return f"along {self.over} · adjusted for {held}{asked.endpoint_mark}"

    def command(self) -> str:
        """The same question at the command line."""
        asked = self.asked or self.question
        words = wording.words_for_shell(asked.cohort.words)
        chosen = self._chosen(asked)
        against = "" if chosen is None else f" --reference {chosen:g}"
        command = f"regdash smooth {words} --over {self.over} --adjust {asked.adjust_text}{against}"
        return f"{command}{asked.endpoint_option}".replace("  ", " ")

    def withheld(self) -> list[str]:
        """Say which ratios and tests are withheld."""
        report = self.answer
        if report is None:
            return []
        ratios = [row.withheld for row in report.rows if row.withheld]
        tests = [f"{row.test}: {row.withheld}" for row in report.tests if row.withheld]
        return list(dict.fromkeys([*ratios, *tests]))

    def also(self) -> list[tuple[str, str]]:
        """Tell the model, and what the tests ask."""
        if self.answer is None:
            return []
        asked = "; ".join(f"{row.test}: {row.asks}" for row in self.answer.tests)
        return [("model", self.answer.model), ("tests", asked)]

    # Paint

    def paint(self) -> None:
        """Show the list and the tests, then the curve."""
        report = self.answer
        assert report is not None
        self._paint_values(report)
        tests = " · ".join(f"{row.test}: {_p(row.p)}" for row in report.tests)
        self.query_one("#tests", Line).say(f" {tests}")
        self._paint_curve()

    def _paint_values(self, report: SmoothReport) -> None:
        columns = (
            Column(report.over.field.key, "value"),
            Column("joints of", left=True),
            Column("joints", "joints"),
            Column("revised", "revised"),
            Column("ratio", "ratio"),
        )
        cells = [_figures(row) for row in report.rows]
        grid = self.query_one("#values", Grid)
        limits = [_limits(row, report.reference) for row in report.rows]
        width = max(SHORTEST_WHY, min(max(map(len, limits)), room_beside(self.size.width, columns, cells)))
        rows = [
            Row((*own, said), row, (row.value, None, row.joints, row.revisions, row.hazard_ratio, None))
            for row, own, said in zip(report.rows, cells, limits)
        ]
        grid.show((*columns, Column("95 % limits", left=True, width=width)), rows)
        if report is not self._shown:  # a new curve is read from its reference on
            self._shown = report
            grid.action_go(next(n for n, row in enumerate(grid.listed) if row.value.value == report.reference))
        grid.styles.height = min(len(rows), max(FEWEST_ROWS, self.size.height // 3)) + 1

    def _paint_curve(self) -> None:
        report = self.answer
        if report is None:
            return
        row = self.query_one("#values", Grid).current
        at = row.value.value if row is not None and row.value.hazard_ratio is not None else None
        against = f"{report.over.field.key} {report.reference:g}{'' if report.named else ', the median'}"
        title = Text(f" hazard ratio against {against}", style="bold")
        self.query_one("#title", Line).say(title.append("  (deaths censored; log axis)", style="not bold"))
        self.query_one("#curve", Chart).show(
            (self.generation, at), lambda width, height: smooth_chart(report, width, height, at)
        )

    # Act

    async def action_adjust(self) -> None:
        """Choose what is held alike."""
        await self.ask_adjustment()

    def action_field(self) -> None:
        """Go to the next field."""
        self.over = FIELDS[(FIELDS.index(self.over) + 1) % len(FIELDS)]
        self._reference = None
        self.ask()

    def action_read(self, steps: int) -> None:
        """Move along the curve."""
        grid = self.query_one("#values", Grid)
        if self.answer is not None:
            grid.action_move(steps)

    def on_grid_moved(self, message: Grid.Moved) -> None:
        """Stand the line at the value under the cursor."""
        self._paint_curve()

    def on_grid_opened(self, message: Grid.Opened) -> None:
        """Divide by the hazard at the value under the cursor."""
        row = message.row.value if message.row is not None else None
        if row is None or self.asked is None:
            return
        if row.hazard_ratio is None or row.value is None:
            self.say(f"No reference: {row.withheld}.")
            return
        self._reference = (self.asked.cohort, row.value)
        self.ask()

    def on_resize(self) -> None:
        """Make room for the list."""
        if self.answer is not None:
            self.call_after_refresh(self.paint)


def _figures(row: SmoothRow) -> tuple[str, ...]:
    value = wording.NO_FIGURE if row.value is None else f"{row.value:g}"
    counts = (wording.count(row.joints), wording.count(row.revisions))
    return value, row.counted, *counts, wording.number(row.hazard_ratio)


def _limits(row: SmoothRow, reference: float) -> str:
    if row.hazard_ratio is None:
        return f"withheld: {row.withheld}"
    return "the reference" if row.value == reference else wording.limits(row.lower, row.upper)


def _p(p: float | None) -> str:
    said = wording.p_value(p)
    return "withheld" if p is None else f"p {said}" if not said.startswith("<") else f"p {said[0]} {said[1:]}"
