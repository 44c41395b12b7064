"""The page of one implant: its curve beside all others of its class, its reasons, and the lists that explain it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import TYPE_CHECKING, ClassVar

from rich.text import Text
from textual import work
from textual.binding import Binding
from textual.containers import Container, Horizontal, Vertical
from textual.message import Message
from textual.widget import Widget
from textual.widgets import Static

from regdash.charts.step import risk_chart
from regdash.dashboard import implant_panes, implant_report_panes, wording
from regdash.dashboard.asked import WINDOWS, Asked, reading_years
from regdash.dashboard.deciding import DecidingOnSignals
from regdash.dashboard.implant_panes import EXPLAINED
from regdash.dashboard.place import TALL, WIDE
from regdash.dashboard.widgets.chart import Chart
from regdash.dashboard.widgets.grid import Grid
from regdash.dashboard.widgets.line import Line
from regdash.dashboard.widgets.pane import Pane
from regdash.errors import Cancelled, RegdashError
from regdash.reports.model import Head, ImplantReport

if TYPE_CHECKING:
    from regdash.cohort import Cohort
    from regdash.dashboard.questions import Questions
    from regdash.signals.explained_model import Explanation
    from regdash.signals.model import SignalsReport

SIDE = ("reasons", "windows")  # beside the chart where there is room
PANES = (*SIDE, *EXPLAINED)
# What stands side by side under the chart where there is room.
TOGETHER = (("excess", "revised", "groups"), ("hospitals", "surgeons", "alike"), ("records",))


class ImplantScreen(DecidingOnSignals):
    """Everything on one implant; one list at a time, several of them where there is room."""

    ENTER = "revised joints"
    AUTO_FOCUS = "#reasons-grid"
    WITHOUT = ("view", "endpoint", "group")
    BINDINGS: ClassVar = [
        Binding("tab", "pane_step(1)", "next list"),
        Binding("shift+tab", "pane_step(-1)", "list before", show=False),
        Binding("s", "decide", "review"),
        Binding("h", "quarters", "history"),
        Binding("a", "adjust", "adjust"),
    ]
    OWN_KEYS: ClassVar[dict[str, str]] = {
        "decide": "move its review on, with a reason; shows what was decided so far",
        "quarters": "its signals in every past quarter, with what was known then",
    }
    DEFAULT_CSS = """
    ImplantScreen #upper { height: 1fr; layout: vertical; }
    ImplantScreen #side { height: 8; }
    ImplantScreen #lower { height: 1fr; }
    ImplantScreen #finding { height: auto; max-height: 6; padding: 0 1; }
    ImplantScreen.wide #upper { height: 22; layout: horizontal; }
    ImplantScreen.wide #upper Chart { width: 1fr; }
    ImplantScreen.wide #side { width: 84; height: 22; }
    ImplantScreen.wide #windows { height: 7; }
    """
    answer: ImplantReport | None

    class Found(Message):
        """What the screen says of it."""

        def __init__(self, report: SignalsReport, page: ImplantReport, cohort: Cohort) -> None:
            super().__init__()
            self.report, self.cohort = report, cohort
            own = [one for one in report.rows if one.unit.code == page.row.code]
            same = [
                one for one in own if (one.unit.role, one.unit.joint_class) == (page.row.role, page.row.joint_class)
            ]
            self.row = next(iter(same or own), None)

    def __init__(self, code: str, within: tuple[str, ...], trail: tuple[str, ...]) -> None:
        super().__init__(within, trail)
        self.code = code
        self.pane = "reasons"
        self.explained: Explanation | None = None
        self.unexplained = "counting…"  # why the lists that explain it are empty
        self.page: ImplantReport | None = None  # the one that they belong to

    def body(self) -> Iterable[Widget]:
        """Lay out the facts, the chart and the lists."""
        yield Line(id="row")
        yield Line(id="use")
        with Container(id="upper"):
            yield Chart(id="curves")
            with Vertical(id="side"):
                yield from (Pane(id=name) for name in SIDE)
        yield Static(id="finding", markup=False)
        with Horizontal(id="lower"):
            yield from (Pane(id=name) for name in EXPLAINED)

    def on_mount(self) -> None:
        """Show the first list."""
        self._arrange()

    # Ask

    def fetch(self, desk: Questions, asked: Asked) -> ImplantReport:
        """Ask for the implant's page."""
        return desk.implant(self.code, asked.cohort, reading_years(asked.years), asked.years)

    def fetch_more(self, desk: Questions, asked: Asked) -> Explanation | str:
        """Ask where its figures come from, once the page is there; a refusal is of the lists alone."""
        try:
            return desk.explained(self.code, asked.cohort, asked.adjust, WINDOWS)
        except Cancelled:
            raise
        except RegdashError as refusal:
            return str(refusal)

    def says_how(self, asked: Asked) -> str:
        """Say what the chart shows, and what the lists are adjusted for."""
        return f"net revision risk, % · {wording.years(asked.years)} · adjusted for {asked.adjust_text}"

    def command(self) -> str:
        """The same question at the command line."""
        asked = self.asked or self.question
        words = wording.words_for_shell(asked.cohort.words)
        return f"regdash implant {self.code} {words} --adjust {asked.adjust_text}".replace("  ", " ")

    def withheld(self) -> list[str]:
        """Name the withheld figures."""
        if self.answer is None:
            return []
        risks = [
            f"{row.group} at {wording.years(row.years)}: {row.withheld}"
            for row in self.answer.risk.rows
            if row.withheld
        ]
        rates = [f"{row.group}: {row.withheld}" for row in self.answer.windows if row.withheld]
        explained = implant_panes.withheld(self.explained, self.pane) if self.explained else []
        return explained + risks + rates

    def head(self) -> Head | None:
        """What the page says of itself; with the lists, how they may mislead."""
        if self.answer is None or self.explained is None:
            return super().head()
        from regdash.signals.explained_cautions import cautions_of_page

        return replace(self.answer.head, cautions=tuple(cautions_of_page(self.answer, self.explained)))

    def counts_of(self) -> str:
        """The joints of its class, which it is compared with."""
        return f"class {self.answer.row.joint_class}: " if self.answer else ""

    def also(self) -> list[tuple[str, str]]:
        """Tell the methods of the curves, of the reasons and of the lists."""
        report, explained = self.answer, self.explained
        said = [("curves", report.risk.head.method), ("reasons", report.reasons.head.method)] if report else []
        if explained is not None:
            said += [("explanation", explained.head.method)]
        return [*said, ("evidence", wording.evidence_for(self.code, (self.asked or self.question).cohort.words))]

    # Paint

    def paint(self) -> None:
        """Show the facts, the curves and the lists."""
        report = self.answer
        assert report is not None
        focus = report.risk.groups[0].label
        self._say_use(report)
        self.query_one("#curves", Chart).show(
            self.generation, lambda width, height: risk_chart(report.risk, width, height, focus)
        )
        for name in SIDE:
            self._paint_known(name, report)
        if self.page is not report:  # and not the same one laid out anew
            self.page, self.explained, self.unexplained = report, None, "counting…"
        self._say_row(report)
        self._paint_explained()

    def paint_more(self, answer: Explanation | str) -> None:
        """Show the lists that explain it, or why there are none."""
        self.explained, self.unexplained = (None, answer) if isinstance(answer, str) else (answer, "")
        if self.page is not None:
            self._say_row(self.page)
        self._paint_explained()
        self.say()

    def _say_use(self, report: ImplantReport) -> None:
        """Write who used it and when, and the ratio of rates, which is not adjusted."""
        row = report.row
        crude = row.withheld or wording.number(row.rate_ratio)
        said = (
            f" {wording.so_many(row.joints, 'joint')}, {wording.so_many(row.hospitals, 'hospital')}, "
            f"{wording.so_many(row.surgeons, 'surgeon')} · {(row.first_used or '')[:4]} to {(row.last_used or '')[:4]} "
            f"· crude ratio {crude}"
        )
        if self.size.width >= WIDE and not row.withheld:
            within = f"({wording.number(row.ratio_lower)}–{wording.number(row.ratio_upper)})"
            rate = f"{wording.number(row.per_100_implant_years)} per 100 years"
            said += f" {within}, p {wording.p_value(row.p)} · {rate}"
        self.query_one("#use", Line).say(said)

    def _ratio(self) -> str:
        """The ratio that a screen gives it, adjusted as the lists are; it comes with them."""
        if self.explained is None:
            return self.unexplained if self.unexplained == "counting…" else wording.NO_FIGURE
        whole = self.explained.whole
        within = f"({wording.number(whole.ratio_lower)}–{wording.number(whole.ratio_upper)})"
        return whole.withheld or f"{wording.number(whole.hazard_ratio)} {within}"

    def _say_row(self, report: ImplantReport) -> None:
        """Write its role, revisions and ratio, and how far its review is where anybody has decided anything."""
        row, explained = report.row, self.explained
        expected = wording.number(explained.excess[-1].expected, 1) if explained and explained.excess else "…"
        said = f"{wording.count(row.revisions)} revised, {expected} expected"
        taken = self.explained.decisions if self.explained else ()
        self.query_one("#row", Line).say(
            f" {row.role} · {said} · ratio {self._ratio()}",
            f"{taken[-1].state} " if taken else "",
        )

    def _paint_explained(self) -> None:
        for name in EXPLAINED:
            pane = self.query_one(f"#{name}", Pane)
            if self.explained is None:
                pane.title(self._titled(name, name))
                pane.grid.show((), [])
                continue
            shown = implant_panes.painted(name, self.explained)
            pane.title(self._titled(name, shown.title))
            pane.grid.show(shown.columns, shown.rows)
        self._say_finding()

    def _say_finding(self) -> None:
        """Write what was found when users were left out above their lists, or why lists are empty."""
        names = self._explaining()
        found = [implant_panes.finding(name, self.explained) for name in names] if self.explained else []
        said = "\n".join(filter(None, [*found, self.unexplained if names else ""]))
        static = self.query_one("#finding", Static)
        static.update(Text(said))
        static.display = bool(said)

    def _explaining(self) -> tuple[str, ...]:
        """The lists that explain it, of those on the screen."""
        if self.has_class("wide"):
            return next((names for names in TOGETHER if self.pane in names), TOGETHER[0])
        return (self.pane,) if self.pane in EXPLAINED else ()

    def _paint_known(self, name: str, report: ImplantReport) -> None:
        shown = implant_report_panes.painted(name, report)
        pane = self.query_one(f"#{name}", Pane)
        pane.title(self._titled(name, shown.title))
        pane.grid.show(shown.columns, shown.rows)

    def _titled(self, name: str, title: str) -> str | Text:
        """On small screens the title names all lists, the one that is shown in capitals."""
        if self.has_class("wide"):
            return title
        return Text(" " + "  ".join(pane.upper() if pane == name else pane for pane in PANES), style="bold")

    def _arrange(self) -> None:
        wide = self.size.width >= WIDE and self.size.height >= TALL
        self.set_class(wide, "wide")
        for name in PANES:
            shown = name == self.pane or name in self._explaining() or (wide and name in SIDE)
            self.query_one(f"#{name}", Pane).display = shown
        # One list has all the room there is, unless it says more beside the curves.
        self.query_one("#upper").display = wide or self.pane in SIDE
        self.query_one("#lower").display = wide or self.pane in EXPLAINED
        self._say_finding()

    # Act

    def on_resize(self) -> None:
        """Lay the lists out anew."""
        self._arrange()
        if self.answer is not None:
            self.call_after_refresh(self.paint)

    def action_pane_step(self, steps: int) -> None:
        """Go to another list."""
        self.became = ""
        self.pane = PANES[(PANES.index(self.pane) + steps) % len(PANES)]
        self._arrange()
        self.query_one(f"#{self.pane}", Pane).grid.focus()

    @property
    def kind(self) -> str:
        """Of which screen it is."""
        return "constructs" if "/" in self.code else "implants"

    def action_decide(self) -> None:
        """Look up what the screen says of it, and what was decided, and ask where its review goes."""
        if self.dashboard.desk is not None and self.page is not None and self.asked is not None:
            self.say("looking it up…")
            self._look_up(self.dashboard.desk, self.page, self.asked.cohort)

    @work(thread=True, group="decide")
    def _look_up(self, desk: Questions, page: ImplantReport, cohort: Cohort) -> None:
        try:
            report = desk.signals(self.kind, cohort, compared=False)
        except RegdashError as refusal:
            self.post_message(self.Decided(str(refusal), is_kept=False))
            return
        self.post_message(self.Found(report, page, cohort))

    async def on_implant_screen_found(self, message: Found) -> None:
        """Ask where its review goes."""
        self.say()
        if message.row is None:
            self.say(f"The screen does not tell of {self.code}: it has too few joints.")
        else:
            await self.decide_on(message.row, message.report, message.cohort)

    def say(self, sentence: str = "") -> None:
        """Write what became of a decision, or else the first caution."""
        super().say(sentence or self.became)

    def on_grid_moved(self, message: Grid.Moved) -> None:
        """Let the line of a decision go."""
        self.became = ""

    def action_quarters(self) -> None:
        """Show its signals in every past quarter, among those of all others."""
        from regdash.dashboard.screens.history import HistoryScreen

        self.app.push_screen(HistoryScreen(self.kind, self.within, (*self.trail, "history"), self.code))

    async def action_adjust(self) -> None:
        """Choose what is held alike."""
        await self.ask_adjustment()

    def on_grid_opened(self, message: Grid.Opened) -> None:
        """Open the revised joints behind a row."""
        from regdash.dashboard.screens.joints import JointsScreen

        if message.row is None or message.row.value is None:
            return
        label, words = message.row.value
        kind = "construct" if "/" in self.code else "implant"
        self.app.push_screen(JointsScreen((*self.within, f"{kind}={self.code}", *words), (*self.trail, label)))
