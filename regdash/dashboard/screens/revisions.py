"""The revisions of one period, beside those of five years before: what they were for, and what was done."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
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
from regdash.dashboard.screens.done_place import DonePlace, label, last_whole
from regdash.dashboard.screens.later_words import LaterWords
from regdash.dashboard.widgets.grid import Column, Grid, Row
from regdash.dashboard.widgets.pane import Pane
from regdash.output.done_pages import REASONS, RevisionsPart, change
from regdash.output.done_pages import WORK as WORK_PART
from regdash.reports.done_groups import PERIODS
from regdash.reports.done_model import RevisionReasonRow, RevisionsReport, RevisionWorkRow
from regdash.vocabulary import coded

if TYPE_CHECKING:
    from regdash.dashboard.questions import Questions

YEARS_BACK = 5
WHY, WORK = "why", "work"
ALL_YEARS = "all years"
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


class RevisionsScreen(DonePlace, LaterWords):
    """Why revisions were done in a period and what was done at them, beside the period five years before."""

    ENTER = "the revisions"
    LISTS = "revisions"
    WITHOUT = ("view", "endpoint", "horizon", "group")
    BINDINGS: ClassVar = [
        Binding("left_square_bracket", "step(-1)", "period before", show=False),
        Binding("right_square_bracket", "step(1)", "period"),
        Binding("tab", "pane_step(1)", "what was done"),
        Binding("p", "every_period", "all years"),
        Binding("shift+tab", "pane_step(-1)", "why", show=False),
    ]
    OWN_KEYS: ClassVar = {
        "step(1)": "the period before, or the next",
        "every_period": "all years together, or one and the one five years before",
        "filter": "edit the filter; here also by what was done: reason, action, stem, augment, graft",
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
        self.every = False  # all years together

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
        if self.every:
            return desk.revisions(asked.cohort, ())
        return desk.revisions(_of_both(asked.cohort, pair), (PERIODS[pair.per],))

    def figures(self, desk: Questions) -> Any:
        """The list in front is what is written out."""
        return self.answer and RevisionsPart(self.answer, REASONS if self.pane == WHY else WORK_PART)

    def says_how(self, asked: Asked) -> str:
        """Name both periods."""
        if self.every:
            return "done in all years"
        return f"done in {self.pair.now} and {self.pair.then}" if self.pair else ""

    def command(self) -> str:
        """The same question at the command line."""
        asked = self.asked or self.question
        part = "" if self.pane == WHY else f" --part {WORK}"
        if self.pair is None or self.every:
            return f"regdash revisions {wording.words_for_shell(asked.cohort.words)}{part}"
        words = wording.words_for_shell(_of_both(asked.cohort, self.pair).words)
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
        names = (ALL_YEARS,) if self.every else (pair.now, pair.then)
        at, joint = _groups_shown(report, names)
        more = f"{joint}s alone; a filter names another joint " if joint else ""
        when = " and ".join(names)
        why, work = self.query_one(f"#{WHY}", Pane), self.query_one(f"#{WORK}", Pane)
        why.title(f"why revisions were done in {when}", more or "by leading reason ")
        why.grid.show(_why_columns(names), _why_rows(report, at))
        work.title(f"what was done and used in {when}", more)
        work.grid.show(_work_columns(names), _work_rows(report, at))
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
            self.pair = self.pair if self.every else self.pair.stepped(steps)
            self.every = False
            self.ask()

    def action_every_period(self) -> None:
        """Look at all years together, or at one and the one five years before."""
        self.every = not self.every
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
        when = () if self.every else (f"revised={self.pair.now}",)
        listed = ALL_YEARS if self.every else self.pair.now
        self.app.push_screen(RevisionRowsScreen((*self.within, *when, word), (*self.trail, listed, name)))


def _of_both(cohort: Cohort, pair: _Pair) -> Cohort:
    return cohort.having(f"revised={pair.then},{pair.now}")


def _share(row: RevisionReasonRow | RevisionWorkRow | None) -> str:
    if row is None:
        return wording.NO_FIGURE
    if row.share is None:
        return "withheld" if row.revisions is None else wording.NO_FIGURE
    return f"{wording.percent(row.share)} ({wording.percent(row.lower)}–{wording.percent(row.upper)})"


def _groups_shown(report: RevisionsReport, names: tuple[str, ...]) -> tuple[tuple[str, ...], str]:
    """Find the groups of the periods; where joints stand apart, those of the first joint, and name it."""
    labels = [group.label for group in report.groups]
    apart = {label.partition(", ")[0] for label in labels} if "joint" in map(str, report.head.by) else set()
    joint = min(apart, default="")
    own = ("all",) if names == (ALL_YEARS,) else names
    if not joint:
        return own, ""
    return tuple(joint if name == "all" else f"{joint}, {name}" for name in own), joint if len(apart) > 1 else ""


def _why_columns(names: tuple[str, ...]) -> list[Column]:
    figures = [
        column
        for name in names
        for column in (Column(name, f"count {name}"), Column("share % (limits)", f"share {name}", left=True))
    ]
    points = [Column("points", "points")] if len(names) == 2 else []
    rates = [Column(f"per 100 y, {names[0]}", "rate")]
    rates += [Column(name, f"rate {name}") for name in names[1:]]
    return [Column("reason", "reason", left=True), *figures, *points, *rates]


def _why_rows(report: RevisionsReport, at: tuple[str, ...]) -> list[Row]:
    rows = {(row.group, row.reason): row for row in report.rows}
    found = []
    for reason in dict.fromkeys(row.reason for row in report.rows if row.group in at):
        own = [rows.get((group, reason)) for group in at]
        rates = [row.per_100_implant_years if row else None for row in own]
        cells, keys = _figures(own)
        points = _less(*(row.share if row else None for row in own)) if len(own) == 2 else None
        between = [change(points)] if len(own) == 2 else []
        cells = (reason, *cells, *between, *(wording.number(rate, 3) for rate in rates))
        found.append(
            Row(cells, (reason, f"reason={coded(reason)}"), (reason, *keys, *([points] if between else []), *rates))
        )
    return found


def _figures(
    own: Sequence[RevisionReasonRow | RevisionWorkRow | None],
) -> tuple[tuple[str, ...], tuple[int | float | None, ...]]:
    """Count and share of each period, as cells and as what they are ordered by."""
    counts = [row.revisions if row else 0 for row in own]
    cells = [cell for row, count in zip(own, counts, strict=True) for cell in (wording.count(count), _share(row))]
    keys = [key for row, count in zip(own, counts, strict=True) for key in (count, row.share if row else None)]
    return tuple(cells), tuple(keys)


def _less(one: float | None, other: float | None) -> float | None:
    return None if one is None or other is None else one - other


def _work_columns(names: tuple[str, ...]) -> list[Column]:
    figures = [
        column
        for name in names
        for column in (Column(name, f"count {name}"), Column("share % (limits)", f"share {name}", left=True))
    ]
    return [Column("at the revision", "what", left=True), *figures]


def _work_rows(report: RevisionsReport, at: tuple[str, ...]) -> list[Row]:
    rows = {(row.group, row.kind, row.what): row for row in report.work}
    lines = dict.fromkeys((row.kind, row.what) for row in report.work if row.group in at)
    found = []
    for kind, what in sorted(lines, key=lambda line: line[0] == "used"):
        said = f"used: {what}" if kind == "used" else what
        word = USED_WORDS.get(what, "") if kind == "used" else f"action={coded(what)}"
        cells, keys = _figures([rows.get((group, kind, what)) for group in at])
        found.append(Row((said, *cells), (what, word), (said, *keys)))
    return found
