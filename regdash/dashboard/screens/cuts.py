"""Which data cuts there are, what each was made from and holds back, and reading another one."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, ClassVar

from rich.text import Text
from textual.binding import Binding
from textual.containers import Horizontal, Vertical, VerticalScroll
from textual.widget import Widget
from textual.widgets import Static

from regdash.dashboard.asked import Asked
from regdash.dashboard.cut_facts import COLUMNS, EXPLAINED, RULES, cut_row, manifest_table, rule_row
from regdash.dashboard.place import WIDE, Place
from regdash.dashboard.widgets.grid import Column, Grid
from regdash.dashboard.widgets.line import Line
from regdash.dashboard.widgets.pane import Pane
from regdash.errors import Cancelled, RegdashError

if TYPE_CHECKING:
    from regdash.dashboard.questions import Manifest, Questions
    from regdash.reports.cut_contents import CutContents

Contents = dict[str, "CutContents | RegdashError"]
MOST_LINES = 8


class CutsScreen(Place):
    """The cuts of the store, newest first; the manifest of the one under the cursor, and what it holds back."""

    ENTER = "read this cut"
    WITHOUT = ("view", "endpoint", "group", "horizon", "filter")
    BINDINGS: ClassVar = [
        Binding("d", "changes", "difference"),
        Binding("l", "corrections", "log"),
        Binding("tab", "pane_step(1)", "next list"),
        Binding("shift+tab", "pane_step(-1)", "list before", show=False),
    ]
    DEFAULT_CSS = """
    CutsScreen #cuts { height: 4; }
    CutsScreen #facts { width: 1fr; }
    CutsScreen VerticalScroll { height: 1fr; padding: 0 1; scrollbar-size-vertical: 1; }
    CutsScreen Static { height: auto; }
    """
    answer: Sequence[Manifest] | None

    def __init__(self) -> None:
        super().__init__()
        self.contents: Contents = {}
        self.pane = "cuts"
        self._below = "facts"  # which of the two lower lists is shown where there is room for one

    @property
    def question(self) -> Asked:
        """The list is the same whatever is asked elsewhere."""
        return Asked()

    def body(self) -> Iterable[Widget]:
        """Lay out the list, the manifest, and the rules that hold rows back."""
        yield Grid(id="cuts", empty="no data cut")
        with Horizontal():
            with Vertical(id="facts"):
                yield Line(id="facts-title")
                with VerticalScroll(id="manifest-scroll"):
                    yield Static(id="manifest", markup=False)
            yield Pane(id="held", empty="no row is held")

    def on_mount(self) -> None:
        """Show the manifest beside or in front of the rules."""
        self._arrange()

    # Ask

    def fetch(self, desk: Questions, asked: Asked) -> Sequence[Manifest]:
        """Ask for the cuts."""
        return list(reversed(desk.cuts()))

    def fetch_more(self, desk: Questions, asked: Asked) -> Contents:
        """Ask what each of them holds; one of another release says that it cannot be read."""
        return {cut.cut: _contents(desk, cut.cut) for cut in reversed(desk.cuts())}

    def says_how(self, asked: Asked) -> str:
        """Nothing is grouped here."""
        return ""

    def command(self) -> str:
        """The same question at the command line."""
        return "regdash cuts"

    # Paint

    def paint(self) -> None:
        """Show the list and a manifest."""
        assert self.answer is not None
        assert self.dashboard.desk is not None
        now = self.dashboard.desk.manifest.cut
        grid = self.query_one("#cuts", Grid)
        grid.show(COLUMNS, [cut_row(cut, self.contents.get(cut.cut), cut.cut == now) for cut in self.answer])
        grid.styles.height = min(len(self.answer), MOST_LINES) + 1
        self._paint_below()

    def paint_more(self, answer: Contents) -> None:
        """Show linked shares and held rows too."""
        self.contents = answer
        self.paint()

    @property
    def _looked_at(self) -> Manifest | None:
        row = self.query_one("#cuts", Grid).current
        return next((cut for cut in self.answer or () if row and cut.cut == row.value), None)

    def _paint_below(self) -> None:
        """Show the manifest of the cut under the cursor, and the rules that hold its rows back."""
        cut, pane = self._looked_at, self.query_one("#held", Pane)
        if cut is None:
            return
        found = self.contents.get(cut.cut)
        self.query_one("#manifest", Static).update(manifest_table(cut, found))
        self.query_one("#facts-title", Line).say(Text(self._titled("facts"), style="bold"), f"{cut.cut} ")
        pane.title(Text(self._titled("held"), style="bold"), f"{cut.cut} ")
        if found is None or isinstance(found, RegdashError):
            pane.grid.empty = "counting…" if found is None else str(found)
            pane.grid.show((Column(""),), [])
        else:
            pane.grid.empty = "no row is held"
            pane.grid.show(RULES, [rule_row(n, rule) for n, rule in enumerate(found.rules)])

    def _titled(self, name: str) -> str:
        """On narrow screens the title names both lists, the one that is shown in capitals."""
        titles = {"facts": "manifest", "held": "rows held back, by rule"}
        if self.size.width >= WIDE:
            return f" {titles[name]}"
        return " " + "  ".join(title.upper() if key == name else title for key, title in titles.items())

    def _arrange(self) -> None:
        wide = self.size.width >= WIDE
        self.query_one("#facts").display = wide or self._below == "facts"
        self.query_one("#held").display = wide or self._below == "held"

    # Act

    def on_resize(self) -> None:
        """Put the rules beside the manifest where there is room."""
        self._arrange()
        if self.answer is not None:
            self.call_after_refresh(self.paint)

    def on_grid_moved(self, message: Grid.Moved) -> None:
        """Show the manifest of the cut under the cursor."""
        if message.grid.id == "cuts":
            self._paint_below()
            self.query_one("#manifest-scroll", VerticalScroll).scroll_home(animate=False)

    def action_pane_step(self, steps: int) -> None:
        """Go from the cuts to the manifest, to the rules, and to the cuts again."""
        panes = ("cuts", "facts", "held")
        self.pane = panes[(panes.index(self.pane) + steps) % len(panes)]
        if self.pane != "cuts":
            self._below = self.pane
        self._arrange()
        widgets = {"cuts": "#cuts", "facts": "#manifest-scroll", "held": "#held-grid"}
        self.query_one(widgets[self.pane]).focus()
        self.say_keys()

    def say_keys(self) -> None:
        """Write the keys; where Enter leads depends on the list."""
        self.ENTER = {"cuts": "read this cut", "facts": "", "held": "its rows"}[self.pane]  # type: ignore[misc]
        super().say_keys()

    def on_grid_opened(self, message: Grid.Opened) -> None:
        """Read another cut, which every place asks from now on; or open the rows that a rule of the open cut holds."""
        if message.row is None or self.dashboard.desk is None:
            return
        if message.grid.id == "cuts":
            self.say("opening…")
            self.dashboard.open_cut(message.row.value)
        elif self._is_open(self._looked_at):
            from regdash.dashboard.screens.found_rows import FoundRowsScreen

            self.app.push_screen(FoundRowsScreen(message.row.value, (), (message.row.value.rule,)))
        else:
            self.say("Its rows can be listed once this cut is open: Tab to the cuts, and Enter.")

    def _is_open(self, cut: Manifest | None) -> bool:
        return cut is not None and self.dashboard.desk is not None and cut.cut == self.dashboard.desk.manifest.cut

    def action_changes(self) -> None:
        """Say what moved from the cut under the cursor to the open one."""
        from regdash.dashboard.screens.changes import ChangesScreen

        cut = self._looked_at
        if cut is None or self.dashboard.desk is None:
            return
        now = self.dashboard.desk.manifest
        if cut.cut == now.cut:
            self.say("Choose an earlier cut with up and down; d says what moved from it to the open one.")
        elif (cut.through_date, cut.known_as_of, cut.cut) > (now.through_date, now.known_as_of, now.cut):
            self.say(f"{cut.cut} is later than the open cut. Open it with Enter, then d on the earlier one.")
        else:
            self.app.push_screen(ChangesScreen(cut.cut, (f"{cut.cut} to {now.cut}",)))

    def action_corrections(self) -> None:
        """List what was corrected, as the cut under the cursor has it."""
        from regdash.dashboard.screens.corrections import CorrectionsScreen

        cut = self._looked_at
        if cut is not None:
            self.app.push_screen(CorrectionsScreen(cut.cut, (f"corrections in {cut.cut}",)))

    def explain_answer(self) -> None:
        """Explain the list."""
        self.read_explained([*EXPLAINED])


def _contents(desk: Questions, name: str) -> CutContents | RegdashError:
    try:
        return desk.contents(name)
    except Cancelled:
        raise
    except RegdashError as refusal:
        return refusal
