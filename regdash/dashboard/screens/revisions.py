"""The revisions of one period, beside those of five years before: what they were for, and what was done."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Any, ClassVar

from textual.binding import Binding
from textual.containers import Container
from textual.widget import Widget

from regdash.cohort import Cohort
from regdash.dashboard import wording
from regdash.dashboard.asked import Asked
from regdash.dashboard.place import WIDE
from regdash.dashboard.screens.activity import change
from regdash.dashboard.screens.done_place import DonePlace, label, last_whole
from regdash.dashboard.widgets.grid import Column, Grid, Row
from regdash.dashboard.widgets.pane import Pane
from regdash.reports.done_groups import PERIODS
from regdash.reports.done_model import RevisionReasonRow, RevisionsReport, RevisionWorkRow
from regdash.vocabulary import coded

if TYPE_CHECKING:
    from regdash.dashboard.questions import Questions

YEARS_BACK = 5
WHY, WORK = "why", "work"
USED_WORDS = {"a stem": "stem=yes", "an augment": "augment=yes", "bone graft": "graft=yes"}


@dataclass(frozen=True)
class _Pair:
    """Two periods that are looked at side by side."""

    per: str
    number: int  # of the later

    @classmethod
    def of(cls, period: str) -> _Pair:
        """Read the later one as it is written: 2024, 2024Q4, 2024-12."""
        if "Q" in period:
            year, _, quarter = period.partition("Q")
            return cls("quarter", int(year) * 4 + int(quarter) - 1)
        year, _, month = period.partition("-")
        return cls("month", int(year) * 12 + int(month) - 1) if month else cls("year", int(year))

    @property
    def now(self) -> str:
        return label(self.per, self.number)

    @property
    def then(self) -> str:
        return label(self.per, self.number - YEARS_BACK * PERIODS[self.per].in_a_year)

    def stepped(self, steps: int) -> _Pair:
        return _Pair(self.per, self.number + steps)


class RevisionsScreen(DonePlace):
    """Why revisions were done in a period and what was done at them, beside the period five years before."""

    ENTER = "the revisions"
    WITHOUT = ("view", "endpoint", "horizon", "group", "beside")
    BINDINGS: ClassVar = [
        Binding("left_square_bracket", "step(-1)", "period before", show=False),
        Binding("right_square_bracket", "step(1)", "period"),
        Binding("tab", "pane_step(1)", "what was done"),
        Binding("shift+tab", "pane_step(-1)", "why", show=False),
    ]
    OWN_KEYS: ClassVar = {
        "step(1)": "the period before, or the next",
        "pane_step(1)": "from reasons to what was done and used, and back",
    }
    DEFAULT_CSS = """
    RevisionsScreen #panes { height: 1fr; layout: vertical; }
    RevisionsScreen.wide #panes { layout: horizontal; }
    """
    answer: RevisionsReport | None

    def __init__(self, within: tuple[str, ...] = (), trail: tuple[str, ...] = (), period: str = "") -> None:
        super().__init__(within, trail)
        self.pair = _Pair.of(period) if period else None
        self.pane = WHY

    def body(self) -> Iterable[Widget]:
        """Lay out both lists."""
        with Container(id="panes"):
            yield Pane(id=WHY, empty="no revisions")
            yield Pane(id=WORK, empty="no revisions")

    def on_mount(self) -> None:
        """Show the first list."""
        self._arrange()

    # Ask

    def _periods(self, desk: Questions) -> _Pair:
        if self.pair is None:
            self.pair = _Pair("year", last_whole("year", date.fromisoformat(desk.manifest.through_date)))
        return self.pair

    def fetch(self, desk: Questions, asked: Asked) -> RevisionsReport:
        """Ask for both periods, as two groups."""
        pair = self._periods(desk)
        return desk.revisions(_of_both(asked.cohort, pair), (PERIODS[pair.per],))

    def figures(self, desk: Questions) -> Any:
        """The list in front is what is written out."""
        from regdash.output.done_pages import REASONS, RevisionsPart
        from regdash.output.done_pages import WORK as WORK_PART

        return self.answer and RevisionsPart(self.answer, REASONS if self.pane == WHY else WORK_PART)

    def says_how(self, asked: Asked) -> str:
        """Name both periods."""
        return f"done in {self.pair.now} and {self.pair.then}" if self.pair else ""

    def command(self) -> str:
        """The same question at the command line."""
        asked = self.asked or self.question
        if self.pair is None:
            return f"regdash revisions {wording.words_for_shell(asked.cohort.words)} --by year"
        words = wording.words_for_shell(_of_both(asked.cohort, self.pair).words)
        part = "" if self.pane == WHY else f" --part {WORK}"
        return f"regdash revisions {words} --by {self.pair.per}{part}"

    def withheld(self) -> list[str]:
        """Name what is withheld."""
        report = self.answer
        if report is None:
            return []
        reasons = [f"{row.reason}: {row.withheld}" for row in report.rows if row.withheld]
        rates = [f"per 100 implant-years: {row.rate_withheld}" for row in report.rows if row.rate_withheld]
        return [*reasons, *rates, *(f"{row.what}: {row.withheld}" for row in report.work if row.withheld)]

    # Paint

    def paint(self) -> None:
        """Show reasons and what was done, the later period first."""
        report, pair = self.answer, self.pair
        assert report is not None
        assert pair is not None
        joints = {group.label.rpartition(", ")[0] for group in report.groups}
        first = next(iter(sorted(joints)), "")
        at = [f"{first}, {period}" if first else period for period in (pair.now, pair.then)]
        more = f"{first}s alone; a filter names another joint " if len(joints) > 1 else "by leading reason "
        why, work = self.query_one(f"#{WHY}", Pane), self.query_one(f"#{WORK}", Pane)
        why.title(f"why revisions were done in {pair.now} and {pair.then}", more)
        why.grid.show(_why_columns(pair), _why_rows(report, *at))
        work.title(f"what was done and used in {pair.now} and {pair.then}", more if len(joints) > 1 else "")
        work.grid.show(_work_columns(pair), _work_rows(report, *at))
        self.say_where()

    # Act

    def on_resize(self) -> None:
        """Put the lists side by side where there is room."""
        self._arrange()

    def _arrange(self) -> None:
        wide = self.size.width >= WIDE
        self.set_class(wide, "wide")
        for name in (WHY, WORK):
            self.query_one(f"#{name}", Pane).display = wide or name == self.pane

    def action_pane_step(self, steps: int) -> None:
        """Go to the other list."""
        self.pane = WORK if self.pane == WHY else WHY
        self._arrange()
        self.query_one(f"#{self.pane}", Pane).grid.focus()

    def action_step(self, steps: int) -> None:
        """Look at the period before, or the next."""
        if self.pair is not None:
            self.pair = self.pair.stepped(steps)
            self.ask()

    def on_grid_opened(self, message: Grid.Opened) -> None:
        """List the revisions of the later period that a row counts."""
        from regdash.dashboard.screens.revision_rows import RevisionRowsScreen

        if message.row is None or self.pair is None:
            return
        name, word = message.row.value
        if not word:
            self.say("No one word chooses these. Enter on a single line lists its revisions.")
            return
        words = (*self.within, f"revised={self.pair.now}", word)
        self.app.push_screen(RevisionRowsScreen(words, (*self.trail, self.pair.now, name)))


def _of_both(cohort: Cohort, pair: _Pair) -> Cohort:
    return cohort.having(f"revised={pair.then},{pair.now}")


def _share(row: RevisionReasonRow | RevisionWorkRow | None) -> str:
    if row is None:
        return wording.NO_FIGURE
    if row.share is None:
        return "withheld" if row.revisions is None else wording.NO_FIGURE
    return f"{wording.percent(row.share)} ({wording.percent(row.lower)}–{wording.percent(row.upper)})"


def _why_columns(pair: _Pair) -> list[Column]:
    return [
        Column("reason", "reason", left=True),
        Column(pair.now, "now"),
        Column("share % (limits)", "now_share", left=True),
        Column(pair.then, "then"),
        Column("share % (limits)", "then_share", left=True),
        Column("points", "points"),
        Column(f"per 100 y, {pair.now}", "now_rate"),
        Column(pair.then, "then_rate"),
    ]


def _why_rows(report: RevisionsReport, now: str, then: str) -> list[Row]:
    at = {(row.group, row.reason): row for row in report.rows}
    reasons = list(dict.fromkeys(row.reason for row in report.rows if row.group in (now, then)))
    found = []
    for reason in reasons:
        own, before = at.get((now, reason)), at.get((then, reason))
        points = None if own is None or before is None else _less(own.share, before.share)
        counts = [row.revisions if row else 0 for row in (own, before)]
        rates = [row.per_100_implant_years if row else None for row in (own, before)]
        shares = [row.share if row else None for row in (own, before)]
        cells = (
            reason,
            wording.count(counts[0]),
            _share(own),
            wording.count(counts[1]),
            _share(before),
            change(points),
            *(wording.number(rate, 3) for rate in rates),
        )
        keys = (reason, counts[0], shares[0], counts[1], shares[1], points, *rates)
        found.append(Row(cells, (reason, f"reason={coded(reason)}"), keys))
    return found


def _less(one: float | None, other: float | None) -> float | None:
    return None if one is None or other is None else one - other


def _work_columns(pair: _Pair) -> list[Column]:
    return [
        Column("at the revision", "what", left=True),
        Column(pair.now, "now"),
        Column("share % (limits)", "now_share", left=True),
        Column(pair.then, "then"),
        Column("share % (limits)", "then_share", left=True),
    ]


def _work_rows(report: RevisionsReport, now: str, then: str) -> list[Row]:
    at = {(row.group, row.kind, row.what): row for row in report.work}
    lines = list(dict.fromkeys((row.kind, row.what) for row in report.work if row.group in (now, then)))
    found = []
    for kind, what in sorted(lines, key=lambda line: line[0] == "used"):
        own, before = at.get((now, kind, what)), at.get((then, kind, what))
        said = f"used: {what}" if kind == "used" else what
        word = USED_WORDS.get(what, "") if kind == "used" else f"action={coded(what)}"
        counts = [row.revisions if row else 0 for row in (own, before)]
        shares = [row.share if row else None for row in (own, before)]
        cells = (said, wording.count(counts[0]), _share(own), wording.count(counts[1]), _share(before))
        found.append(Row(cells, (what, word), (said, counts[0], shares[0], counts[1], shares[1])))
    return found
