"""The register at a glance: who the joints are, how many were done each year, the mix, and the headline risk."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING, ClassVar

from rich.text import Text
from textual.binding import Binding
from textual.containers import Container, Horizontal, Vertical
from textual.widget import Widget

from regdash.charts.bars import column_chart
from regdash.charts.step import risk_chart
from regdash.dashboard import wording
from regdash.dashboard.asked import Asked
from regdash.dashboard.place import TALL, WIDE, Place
from regdash.dashboard.widgets.chart import Chart
from regdash.dashboard.widgets.grid import Column, Grid, Row
from regdash.dashboard.widgets.line import Line
from regdash.reports.done_model import ActivityReport
from regdash.reports.model import DescribeReport, DescribeRow, Group, RiskReport, RiskRow

if TYPE_CHECKING:
    from regdash.dashboard.questions import Questions

HEADLINE_YEARS = (1.0, 5.0, 10.0, 15.0)
LEAST_SHARE = 0.5  # per cent; what is rarer is not named in the mix
MIX = ("age", "sex", "bearing", "fixation", "technology", "diagnosis", "patella", "constraint", "asa")


@dataclass(frozen=True)
class Glance:
    """What follows the description once that is painted."""

    by_year: ActivityReport
    risk: RiskReport
    mix: tuple[tuple[str, dict[str, int]], ...]


class RegisterScreen(Place):
    """What the cohort is made of."""

    ENTER = "reasons"
    WITHOUT = ("view", "endpoint", "horizon")
    DEFAULT_CSS = """
    RegisterScreen Grid { height: 3; }
    RegisterScreen Container { layout: vertical; }
    RegisterScreen.wide Container { layout: horizontal; height: 16; }
    RegisterScreen #headline, RegisterScreen #headline-title { display: none; }
    RegisterScreen.wide #headline, RegisterScreen.wide #headline-title { display: block; }
    """
    BINDINGS: ClassVar = [Binding("p", "done", "done by year")]
    OWN_KEYS: ClassVar = {
        "done": "primaries and revisions by the year, quarter or month in which they were done; Enter: the revisions"
    }
    answer: DescribeReport | None
    glance: Glance | None = None

    def body(self) -> Iterable[Widget]:
        """Lay out the groups, the years, the risk and the mix."""
        yield Grid(id="groups", empty="no joints")
        yield Grid(id="risk", empty="no joints")
        with Container(id="rest"):
            with Vertical(id="volumes"), Horizontal():
                with Vertical():
                    yield Line(id="years-title")
                    yield Chart(id="years")
                with Vertical():
                    yield Line(id="revisions-title")
                    yield Chart(id="revisions")
            with Vertical(id="shares"):
                yield Line(id="mix-title")
                yield Chart(id="mix")
        yield Line(id="headline-title")
        yield Chart(id="headline")

    # Ask

    def fetch(self, desk: Questions, asked: Asked) -> DescribeReport:
        """Ask who they are."""
        return desk.describe(asked.cohort, asked.by)

    def fetch_more(self, desk: Questions, asked: Asked) -> Glance:
        """Ask for years, headline risk and mix."""
        return Glance(
            desk.activity(asked.cohort, (), "year"),
            desk.risk(asked.cohort, asked.by, HEADLINE_YEARS, asked.view),
            tuple((key, desk.values(key, asked.cohort)) for key in MIX),
        )

    def says_how(self, asked: Asked) -> str:
        """Say the grouping."""
        return f"by {asked.by_text} · {asked.view} view"

    def command(self) -> str:
        """The same question at the command line."""
        asked = self.asked or self.question
        by = f" --by {asked.by_text}" if asked.by else ""
        return f"regdash describe {wording.words_for_shell(asked.cohort.words)}{by}"

    def also(self) -> list[tuple[str, str]]:
        """Tell the method of the headline risk."""
        return [("risk", self.glance.risk.head.method)] if self.glance else []

    def withheld(self) -> list[str]:
        """Name what is withheld, of the groups and of the headline risk."""
        groups = [f"{row.group}: {row.withheld}" for row in self.answer.rows if row.withheld] if self.answer else []
        risks = self.glance.risk.rows if self.glance else ()
        return groups + [f"{r.group}, risk at {wording.years(r.years)}: {r.withheld}" for r in risks if r.withheld]

    # Paint

    @property
    def _most_lines(self) -> int:
        return max(3, self.size.height // 6)

    def paint(self) -> None:
        """Show the groups."""
        report = self.answer
        assert report is not None
        columns = (
            Column("group", "group", left=True),
            Column("joints", "joints"),
            Column("share %"),
            Column("mean age", "age"),
            Column("female %", "female"),
            Column("followed y", "followed"),
            Column("revised", "revised"),
            Column("died", "died"),
            Column("lost", "lost"),
            Column("hospitals", "hospitals"),
            Column("surgeons", "surgeons"),
            Column("patients", "patients"),
            Column("from", "from", left=True),
            Column("to", "to", left=True),
        )
        pairs = list(zip(report.groups, report.rows))
        grid = self.query_one("#groups", Grid)
        grid.show(columns, [_describe_row(n, group, row, report.head.joints) for n, (group, row) in enumerate(pairs)])
        grid.styles.height = min(len(pairs), self._most_lines) + 1

    def paint_more(self, answer: Glance) -> None:
        """Show years, headline risk and mix."""
        self.glance = answer
        several = len(answer.by_year.groups) > 1
        names = [f"{row.group} {row.period}" if several else row.period for row in answer.by_year.rows]
        self._paint_years("years", "primaries by year", names, [row.primaries for row in answer.by_year.rows])
        self._paint_years("revisions", "revisions done by year", names, [row.revisions for row in answer.by_year.rows])
        grid = self.query_one("#risk", Grid)
        grid.show(*_risk_table(answer.risk))
        grid.styles.height = min(len(answer.risk.groups), self._most_lines) + 1
        self.query_one("#headline-title", Line).say(Text(f" {answer.risk.head.measure}, %", style="bold"))
        self.query_one("#headline", Chart).show(
            (self.generation, "headline"), lambda width, height: risk_chart(answer.risk, width, height)
        )
        self.query_one("#mix-title", Line).say(Text(" mix, % of joints", style="bold"))
        self.query_one("#mix", Chart).show((self.generation, "mix"), lambda w, h: _mix(answer.mix, w, h))

    def _paint_years(self, name: str, title: str, years: list[str], counts: list[int | None]) -> None:
        """Draw counts by the year of the operation."""
        self.query_one(f"#{name}-title", Line).say(Text(f" {title}", style="bold"))
        columns = [(year, count or 0) for year, count in zip(years, counts, strict=True)]
        self.query_one(f"#{name}", Chart).show(
            (self.generation, name),
            lambda width, height: Text("\n".join(column_chart(columns, width, height)), no_wrap=True),
        )

    # Act

    def action_done(self) -> None:
        """Open what was done by year, as a list."""
        from regdash.dashboard.screens.activity import ActivityScreen

        self.app.push_screen(ActivityScreen(self.within, (*self.trail, "done by year")))

    def on_resize(self) -> None:
        """Put the mix beside the years, and curves under them, where there is room."""
        self.set_class(self.size.width >= WIDE and self.size.height >= TALL, "wide")

    def on_grid_opened(self, message: Grid.Opened) -> None:
        """Open the reasons of a group."""
        if message.row is not None:
            self.open_reasons(message.row.value)


def _describe_row(number: int, group: Group, row: DescribeRow, all_joints: int | None) -> Row:
    return Row(
        (
            row.group,
            wording.count(row.joints),
            wording.percent(row.joints / all_joints if all_joints and row.joints is not None else None),
            wording.number(row.mean_age, 1),
            wording.percent(row.female),
            wording.number(row.median_follow_up, 1),
            *map(wording.count, (row.revised, row.died, row.lost, row.hospitals, row.surgeons, row.patients)),
            row.first_date or "",
            row.last_date or "",
        ),
        group,
        (
            number,
            row.joints,
            None,
            row.mean_age,
            row.female,
            row.median_follow_up,
            row.revised,
            row.died,
            row.lost,
            row.hospitals,
            row.surgeons,
            row.patients,
            row.first_date,
            row.last_date,
        ),
    )


def _risk_table(report: RiskReport) -> tuple[list[Column], list[Row]]:
    """Lay out the risk at the usual times, one row a group."""
    at: dict[tuple[str, float], RiskRow] = {(row.group, row.years): row for row in report.rows}
    columns = [Column("risk, %", left=True)] + [
        Column(f"at {wording.years(years)}", left=True) for years in report.years
    ]
    rows = []
    for group in report.groups:
        cells = [_risk_cell(at[group.label, years]) for years in report.years]
        rows.append(Row((group.label, *cells), group))
    return columns, rows


def _risk_cell(row: RiskRow) -> str:
    if row.estimate is None:
        return (row.withheld or "").partition(":")[0]
    decimals = wording.decimals_for([row.estimate])
    lower, upper = wording.percent(row.lower, decimals), wording.percent(row.upper, decimals)
    return f"{wording.percent(row.estimate, decimals)} ({lower}–{upper})"


def _mix(mix: tuple[tuple[str, dict[str, int]], ...], width: int, height: int) -> Text:
    lines = []
    for key, counts in mix[:height]:
        total = sum(counts.values())
        told = [(value, 100 * count / total) for value, count in counts.items() if total]
        shares = [f"{value} {share:.0f}" for value, share in told if share >= LEAST_SHARE]
        line = Text(f" {key:<12}{' · '.join(shares)}", no_wrap=True)
        line.truncate(width, overflow="ellipsis")
        lines.append(line)
    return Text("\n", no_wrap=True).join(lines)
