"""What moved from an earlier data cut to the open one, figure by figure, and the causes that add up to it."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from rich.text import Text
from textual.widget import Widget
from textual.widgets import Static

from regdash.dashboard import wording
from regdash.dashboard.asked import Asked
from regdash.dashboard.place import Place
from regdash.dashboard.widgets.grid import Column, Grid, Row
from regdash.dashboard.widgets.line import Line

if TYPE_CHECKING:
    from regdash.dashboard.questions import Questions
    from regdash.reports.changes import ChangesReport, ChangesRow

YEARS = (1.0, 5.0, 10.0)
# How a figure is called and written: decimals, and what it is multiplied by.
FIGURES = {
    "joints": ("joints", 0, 1),
    "revisions": ("revised", 0, 1),
    "implant_years": ("implant-years", 0, 1),
    "risk": ("net risk %", 2, 100),
}
PARTS = {
    "definition_changes": "definition changes",
    "corrections": "corrections",
    "links_undone": "links undone",
    "new_links": "new links",
    "late_events": "late events",
    "new_events": "new events",
}
BAR = 24  # columns of the longest bar


class ChangesScreen(Place):
    """The figures of every group before and after, and how the difference of one of them is made up."""

    WITHOUT = ("view", "endpoint", "horizon")
    DEFAULT_CSS = """
    ChangesScreen #figures { height: 1fr; }
    ChangesScreen #split { height: 8; padding: 0 1; }
    """
    answer: ChangesReport | None

    def __init__(self, earlier: str, trail: tuple[str, ...]) -> None:
        super().__init__((), trail)
        self.earlier = earlier

    def body(self) -> Iterable[Widget]:
        """Lay out the figures, and under them the split of the one under the cursor."""
        yield Grid(id="figures", empty="no joints")
        yield Line(id="split-title")
        yield Static(id="split", markup=False)

    # Ask

    def fetch(self, desk: Questions, asked: Asked) -> ChangesReport:
        """Ask what moved."""
        return desk.changes(self.earlier, asked.cohort, asked.by, YEARS)

    def says_how(self, asked: Asked) -> str:
        """Say the grouping."""
        return f"by {asked.by_text}"

    def command(self) -> str:
        """The same question at the command line."""
        asked, later = self.asked or self.question, self.answer.head.cut if self.answer else ""
        by = f" --by {asked.by_text}" if asked.by else ""
        command = f"regdash changes {self.earlier} {later} {wording.words_for_shell(asked.cohort.words)}{by}"
        return command.replace("  ", " ")

    def head(self) -> None:
        """Counts are those of two cuts, so none stands above."""
        return None

    def counts_of(self) -> str:
        """Say which cut is before and which after."""
        return f"before: {self.earlier} · after: {self.answer.head.cut}" if self.answer else ""

    # Paint

    def paint(self) -> None:
        """Show every figure of every group."""
        report = self.answer
        assert report is not None
        columns = (
            Column("group", "group", left=True),
            Column("figure", left=True),
            Column("before", "before"),
            Column("after", "after"),
            Column("moved", "moved"),
            *(Column(title, name) for name, title in PARTS.items()),
        )
        self.query_one(Grid).show(columns, [_figure_row(n, row) for n, row in enumerate(report.rows)])
        self._paint_split()

    def _paint_split(self) -> None:
        """Show what the difference under the cursor is made up of."""
        row = self.query_one(Grid).current
        report = self.answer
        if row is None or report is None:
            return
        found = report.rows[row.value]
        self.query_one("#split-title", Line).say(Text(f" {found.group}: {_name(found)}", style="bold"))
        self.query_one("#split", Static).update(found.withheld or _split(found))

    def say(self, sentence: str = "") -> None:
        """Write what just happened, or else the first caution."""
        cautions = self.answer.head.cautions if self.answer else ()
        super().say(sentence or (cautions[0] if cautions else ""))

    # Act

    def on_grid_moved(self) -> None:
        """Split the figure under the cursor."""
        self._paint_split()

    def explain_answer(self) -> None:
        """Explain the split."""
        if self.answer is None:
            return
        head = self.answer.head
        said = [
            ("what it is", f"what moved from data cut {head.earlier} to {head.cut}, split into causes that add up"),
            ("cohort", wording.cohort_in_words(head.cohort)),
            ("formula and source", head.method),
            *(("caution" if n == 0 else "", caution) for n, caution in enumerate(head.cautions)),
            ("command", self.command()),
        ]
        self.read_explained(said)


def _name(row: ChangesRow) -> str:
    name = FIGURES[row.figure][0]
    return name if row.years is None else f"{name} at {wording.years(row.years)}"


def _written(row: ChangesRow, value: float | None, signed: bool = False) -> str:
    _, decimals, times = FIGURES[row.figure]
    if value is None:
        return "withheld" if row.withheld else wording.NO_FIGURE
    return f"{times * value:{'+' if signed and value else ''}z,.{decimals}f}"


def _moved(row: ChangesRow) -> float | None:
    return None if row.before is None or row.after is None else row.after - row.before


def _figure_row(number: int, row: ChangesRow) -> Row:
    parts = [getattr(row, name) for name in PARTS]
    moved = _moved(row)
    cells = (_written(row, row.before), _written(row, row.after), _written(row, moved, signed=True))
    shown = (row.group, _name(row), *cells, *(_written(row, part, signed=True) for part in parts))
    return Row(shown, number, (row.group, None, row.before, row.after, moved, *parts))


def _split(row: ChangesRow) -> Text:
    """Write each cause on a line, with a bar to the side that it moves the figure to."""
    parts = {title: getattr(row, name) or 0.0 for name, title in PARTS.items()}
    longest = max(map(abs, parts.values())) or 1.0
    lines = [f"{'before':<20}{_written(row, row.before):>14}"]
    for title, part in parts.items():
        length = round(BAR * abs(part) / longest)
        bar = ("+" if part > 0 else "-") * (max(1, length) if part else 0)
        lines.append(f"{title:<20}{_written(row, part, signed=True):>14}  {bar}")
    lines.append(f"{'after':<20}{_written(row, row.after):>14}")
    return Text("\n".join(lines), no_wrap=True)
