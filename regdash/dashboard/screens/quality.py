"""How good the data are: what was held and why, what was sent, how complete, how late, with what missing."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Any, ClassVar

from rich.text import Text
from textual.binding import Binding
from textual.containers import Container
from textual.widget import Widget

from regdash.dashboard.asked import Asked
from regdash.dashboard.place import TALL, WIDE, Place
from regdash.dashboard.quality_lists import SECTIONS
from regdash.dashboard.sections import GROUPINGS, HOSPITAL, Opens, Section
from regdash.dashboard.widgets.grid import Column, Grid
from regdash.dashboard.widgets.pane import Pane
from regdash.errors import Cancelled, RegdashError
from regdash.reports.reviewed_links import ReviewRow
from regdash.reports.submitted_rows import RuleTotal

if TYPE_CHECKING:
    from regdash.dashboard.questions import Questions

NAMED = {section.name: section for section in SECTIONS}
COUNTING = "counting…"


class QualityScreen(Place):
    """Lists about the data, one at a time, or all of them where there is room; of every hospital or of one."""

    AUTO_FOCUS = ""
    WITHOUT = ("view", "endpoint", "horizon")
    OWN_KEYS: ClassVar[dict[str, str]] = {
        "group": "links, complete, delays and missing: by hospital, by year, or by both; "
        "triangle: quarters or months, counts or shares",
        "filter": "edit the filter; lists of rows follow hospital= alone, others joint=, implanted= and region= too",
        "explain": "what the list is of, which words of the filter it follows, how it is made, the command for it",
    }
    BINDINGS: ClassVar = [
        Binding("tab", "pane_step(1)", "next list"),
        Binding("shift+tab", "pane_step(-1)", "list before", show=False),
    ]
    DEFAULT_CSS = """
    QualityScreen #panes { height: 1fr; layout: vertical; }
    QualityScreen.wide #panes { layout: grid; grid-size: 2; grid-gutter: 0 2; }
    """
    answer: dict[str, Any] | None

    def __init__(self, within: tuple[str, ...] = (), trail: tuple[str, ...] = (), pane: str = SECTIONS[0].name) -> None:
        super().__init__(within, trail)
        self.pane = pane
        # How lists are grouped: one choice for all that are grouped alike.
        first = ("year",) if trail else ("hospital",)
        self._by: dict[tuple[tuple[str, ...], ...], tuple[str, ...]] = {GROUPINGS: first}
        self._first = SECTIONS[0]  # the list that was asked for first

    def body(self) -> Iterable[Widget]:
        """Lay out the lists."""
        with Container(id="panes"):
            yield from (Pane(id=section.name, empty=section.empty) for section in SECTIONS)

    def on_mount(self) -> None:
        """Show the first list."""
        self._arrange()
        self._grid(self.pane).focus()

    @property
    def section(self) -> Section:
        """The list that has the focus."""
        return NAMED[self.pane]

    @property
    def report(self) -> Any:
        """Its answer; None where it has none yet, or was refused."""
        found = (self.answer or {}).get(self.pane)
        return None if isinstance(found, RegdashError) else found

    @property
    def exported(self) -> str:
        """What the audit trail calls the rows of the list in front; empty where they are counts."""
        return self.section.exports

    def _by_of(self, section: Section) -> tuple[str, ...]:
        """How a list is grouped."""
        return self._by.get(section.groupings, section.groupings[0])

    def _grid(self, name: str) -> Grid:
        return self.query_one(f"#{name}", Pane).grid

    # Ask

    def fetch(self, desk: Questions, asked: Asked) -> dict[str, Any]:
        """Ask for the list in front."""
        self._first = section = self.section
        return {section.name: self._asked(desk, asked, section)}

    def fetch_more(self, desk: Questions, asked: Asked) -> dict[str, Any]:
        """Ask for the others."""
        return {each.name: self._asked(desk, asked, each) for each in SECTIONS if each is not self._first}

    def _asked(self, desk: Questions, asked: Asked, section: Section) -> Any:
        """Ask for one list; that one is refused keeps no other from being shown."""
        try:
            return section.ask(desk, section.followed(asked.cohort), self._by_of(section))
        except Cancelled:
            raise
        except RegdashError as refusal:
            return refusal

    def says_how(self, asked: Asked) -> str:
        """Say the grouping, and which words of the filter this list cannot follow."""
        said = [f"by {','.join(self._by_of(self.section))}"] if self.section.grouped else []
        left_out = self.section.not_followed(asked.cohort)
        return " · ".join([*said, *([f"{' '.join(left_out)} not followed here"] if left_out else [])])

    def command(self) -> str:
        """The same question at the command line."""
        asked = (self.asked or self.question).cohort
        section = self.section
        return section.command(section.followed(asked), self._by_of(section), self._grid(self.pane).current)

    def counts_of(self) -> str:
        """What the list in front rests on."""
        return self.section.counts(self.report) if self.report is not None else ""

    # Paint

    def paint(self) -> None:
        """Show the list in front; the others follow."""
        for section in SECTIONS:
            self._paint_section(section)

    def paint_more(self, answer: dict[str, Any]) -> None:
        """Show the others."""
        assert self.answer is not None
        self.answer.update(answer)
        for name in answer:
            self._paint_section(NAMED[name])
        self.say_counts()
        self.say()

    def _paint_section(self, section: Section) -> None:
        pane, found = self.query_one(f"#{section.name}", Pane), (self.answer or {}).get(section.name)
        pane.title(self._titled(section))
        if found is None or isinstance(found, RegdashError):
            pane.grid.empty = COUNTING if found is None else str(found)
            pane.grid.show((Column(""),), [])
        else:
            pane.grid.empty = section.empty
            pane.grid.show(*section.table(found, pane.size.width or self.size.width))

    def _titled(self, section: Section) -> str | Text:
        """On small screens the title names all lists, the one that is shown in capitals."""
        if self.has_class("wide"):
            return f"{section.name.upper() if section.name == self.pane else section.name}: {section.about}"
        names = (name.upper() if name == section.name else name for name in NAMED)
        return Text(" " + " ".join(names), style="bold")

    def say(self, sentence: str = "") -> None:
        """Write what just happened, or else what the row under the cursor has no room for."""
        found = (self.answer or {}).get(self.pane)
        if not sentence and isinstance(found, RegdashError):
            sentence = str(found)
        elif not sentence and found is not None:
            grid = self._grid(self.pane)
            sentence = self.section.sentence(found, grid.current, grid.chosen)
        super().say(sentence)

    def say_keys(self) -> None:
        """Write the keys; where Enter leads depends on the list."""
        enter = self.section.enter
        self.ENTER = "" if self.trail and enter == HOSPITAL else enter  # type: ignore[misc]
        super().say_keys()

    def _arrange(self) -> None:
        wide = self.size.width >= WIDE and self.size.height >= TALL
        self.set_class(wide, "wide")
        for name in NAMED:
            self.query_one(f"#{name}", Pane).display = wide or name == self.pane

    # Act

    def on_resize(self) -> None:
        """Lay the lists out anew."""
        self._arrange()
        if self.answer is not None:
            self.call_after_refresh(self.paint)

    def action_pane_step(self, steps: int) -> None:
        """Go to another list."""
        names = list(NAMED)
        self.pane = names[(names.index(self.pane) + steps) % len(names)]
        self._arrange()
        self._grid(self.pane).focus()
        if self.answer is not None:
            self.call_after_refresh(self.paint)
        self.say_where()
        self.say_counts()
        self.say_keys()
        self.say()

    async def action_group(self) -> None:
        """Group by hospital, by year or by both, one after the other; or as a list of its own kind is grouped."""
        if not self.section.grouped:
            self.say("This list is not grouped; Tab goes to one that is: links, complete, delays, triangle, missing.")
            return
        choices = self.section.groupings
        self._by[choices] = choices[(choices.index(self._by_of(self.section)) + 1) % len(choices)]
        self.ask()

    def on_grid_moved(self, message: Grid.Moved) -> None:
        """Say what the row under the cursor has no room for."""
        if message.grid is self._grid(self.pane) and not self.counting:
            self.say()

    def on_grid_opened(self, message: Grid.Opened) -> None:
        """Open the rows that a rule found, or the same lists of one hospital."""
        from regdash.dashboard.screens.found_rows import FoundRowsScreen
        from regdash.dashboard.screens.link_pair import LinkPairScreen

        value = message.row.value if message.row else None
        if isinstance(value, ReviewRow):
            self.app.push_screen(LinkPairScreen(value, (*self.trail, value.revision)))
        elif isinstance(value, RuleTotal):
            self.app.push_screen(FoundRowsScreen(value, self.within, (*self.trail, value.rule)))
        elif isinstance(value, Opens) and value.hospital and not self.trail:
            self.app.push_screen(QualityScreen((f"hospital={value.hospital}",), (value.hospital,), self.pane))

    def explain_answer(self) -> None:
        """Explain the list in front."""
        from regdash.dashboard.explain import explained_rows

        if self.report is None or self.asked is None:
            return
        asked, section, head, grid = self.asked.cohort, self.section, self.report.head, self._grid(self.pane)
        said = explained_rows(head, section.about, section.followed(asked), section.not_followed(asked), self.command())
        note = section.sentence(self.report, grid.current, grid.chosen)
        if note and note not in head.cautions:
            said.insert(1, ("this row", note))
        self.read_explained(said)
