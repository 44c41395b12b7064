"""
What all places share: they say where the reader is, what is asked and what it rests on, and know the keys that mean
the same everywhere.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import ClassVar

from rich.cells import cell_len
from rich.text import Text
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Vertical
from textual.widget import Widget

from regdash.dashboard import wording
from regdash.dashboard.asked import Asked
from regdash.dashboard.choosing import Choosing
from regdash.dashboard.screens.reading import Reading
from regdash.dashboard.widgets.grid import Grid
from regdash.dashboard.widgets.line import Line
from regdash.reports.model import Group, Head
from regdash.vocabulary import coded

PLACES = ("register", "risk", "reasons", "compare", "implants", "units", "quality", "cuts", "sql")
CHOOSE_COHORTS = ("named", "beside")  # actions that set the filter
KEY_NAMES = {"slash": "/", "question_mark": "?", "right_square_bracket": "[ ]", "tab": "Tab", "plus": "+", "minus": "-"}
FILTER = " filter  "
NOT_USED = ("  second cohort not used here", "  second not used")  # said where two stand side by side elsewhere
SHORTEST_FILTER = 12  # columns of the filter that give way to a second cohort last
ALL_OF_IT = "… x: all of it"  # after a sentence that does not fit
WIDE = 150  # columns from which a second pane stands beside the first
TALL = 40  # lines from which there is room for a second chart or list under the first


class Place(Choosing):
    """A screen with one question. Subclasses say how it is asked (`fetch`) and painted (`paint`)."""

    AUTO_FOCUS = "Grid"
    BINDINGS: ClassVar = [
        Binding("slash", "filter", "filter"),
        Binding("g", "group", "group"),
        Binding("y", "horizon", "years"),
        Binding("v", "view", "view"),
        Binding("e", "endpoint", "endpoint"),
        Binding("x", "explain", "explain"),
        Binding("o", "order", "order"),
        Binding("w", "write", "write out"),
        Binding("n", "named", "named"),
        Binding("b", "beside", "beside"),
        Binding("u", "undo", "undo", show=False),
        Binding("U", "redo", "redo", show=False),
        Binding("question_mark", "keys", "keys"),
        Binding("q", "ask_to_quit", "quit"),
        Binding("r", "again", "ask again", show=False),
        Binding("escape,backspace", "back", "back", show=False),
        *(Binding(str(n), f"go('{name}')", name, show=False) for n, name in enumerate(PLACES, 1)),
    ]
    # What a place does with a key of its own, said in the line of keys before the rest.
    ENTER: ClassVar[str] = ""
    WITHOUT: ClassVar[tuple[str, ...]] = ()  # actions that mean nothing here
    LOOKS_AT_FIRST: ClassVar[bool] = False  # of two cohorts it is of the first, though opened from where both stand
    OWN_KEYS: ClassVar[dict[str, str]] = {}  # what a key does here that does something alike elsewhere
    DEFAULT_CSS = """
    Place { layout: vertical; }
    Place #body { height: 1fr; }
    """

    def __init__(self, within: tuple[str, ...] = (), trail: tuple[str, ...] = ()) -> None:
        super().__init__()
        self.within = within  # filter words of the things that were opened on the way here
        self.trail = trail  # and what they are called
        self.of_second = False  # opened from the second of two cohorts side by side
        self._cut_above = True  # the first line has room for the name of the cut

    # What a place is

    def head(self) -> Head | None:
        """What the painted answer says of itself."""
        return getattr(self.answer, "head", None)

    def body(self) -> Iterable[Widget]:
        """Lay out what stands between the lines at the top and at the bottom."""
        raise NotImplementedError

    def command(self) -> str:
        """The same question at the command line."""
        raise NotImplementedError

    def withheld(self) -> list[str]:
        """Say which figures are withheld, and why."""
        return []

    def also(self) -> list[tuple[str, str]]:
        """Name what else is shown here, with its method."""
        return []

    def narrower(self, words: tuple[str, ...]) -> tuple[str, ...]:
        """The words that narrow this place down to a group: those of the group that are not in the filter anyway."""
        now = self.dashboard.history.now
        asked = (now.second if self._is_second(words) else now).cohort.words
        return tuple(dict.fromkeys(word for word in (*self.within, *words) if word not in asked))

    def _is_second(self, words: tuple[str, ...]) -> bool:
        """Whether a group, by its words, is the second of two cohorts side by side, or was opened from there."""
        beside = self.question.beside
        return self.of_second or (beside is not None and words == beside.words)

    # Layout

    @property
    def question(self) -> Asked:
        """The question of this place: the one asked everywhere, of the joints opened here."""
        now = self.dashboard.history.now
        if not self.follows_beside:
            now = now.second if self.of_second else now.alone
        return now.within(self.within)

    def compose(self) -> ComposeResult:
        """Lay out the place."""
        yield Line(id="places")
        yield Line(id="filter")
        yield Line(id="counts")
        with Vertical(id="body"):
            yield from self.body()
        yield Line(id="note")
        yield Line(id="keys")

    def on_mount(self) -> None:
        """Say where we are, and ask."""
        below = self.app.screen_stack[-2:-1]
        self.of_second = self.of_second or any(isinstance(place, Place) and place.of_second for place in below)
        self.say_where()
        self.say_keys()
        self.ask_if_changed()

    def on_screen_resume(self) -> None:
        """Ask again where the question changed while another screen was in front."""
        self.say_where()
        self.ask_if_changed()

    def say_where(self) -> None:
        """Write the places or the way here, and the question."""
        now = self.app.current_mode
        names = [(n, name.upper() if name == now else name) for n, name in enumerate(PLACES, 1)]
        if self.trail:
            own = next(f"{n} {name}" for n, name in names if name.isupper())
            places = Text(f" {own} › ").append(" › ".join(self.trail), style="bold")
        else:
            places = Text(" " + " ".join(f"{n} {name}" for n, name in names))
        room = self.size.width - places.cell_len - 2
        cut = self._cut_within(room)
        self._cut_above = bool(cut)
        self.query_one("#places", Line).say(places, cut)
        asked = self.question
        said, how = Text(), f"{self.says_how(asked)} "
        if "filter" not in self.WITHOUT:
            room = self.size.width - len(FILTER)
            cohort = Text(str(asked.cohort) or "every joint", style="bold")
            beside = self._beside_said(asked, room - len(how) - 2 - cohort.cell_len)
            if beside and cohort.cell_len + len(beside) > room - len(how) - 2:
                # Titles and tables say how too; what tells the second cohort stands nowhere else.
                how = "" if asked.beside is not None else how
                left = room - len(beside) - (len(how) + 2 if how else 0)
                cohort.truncate(max(SHORTEST_FILTER, left), overflow="ellipsis")
            said = Text(FILTER).append_text(cohort).append(beside)
        self.query_one("#filter", Line).say(said, how)

    def _beside_said(self, asked: Asked, room: int) -> str:
        """What stands beside the filter: the second cohort, or that it is not looked at here."""
        if asked.beside is not None:
            return f"  {asked.beside_said}"
        if self.dashboard.history.now.beside is None or (self.trail and not self.LOOKS_AT_FIRST):
            return ""
        return next((said for said in NOT_USED if len(said) <= room), NOT_USED[-1])

    def _cut_within(self, room: int) -> str:
        """Name the open cut where there is room for it."""
        cut = self.dashboard.desk.manifest.cut if self.dashboard.desk else ""
        return next((text for text in (f"data cut {cut} ", f"{cut} ", cut) if cut and len(text) <= room), "")

    def says_how(self, asked: Asked) -> str:
        """Say grouping, horizon and view, as far as they matter here."""
        return f"{asked.groups_said}{wording.years(asked.years)} · {asked.view} view"

    def say_counts(self) -> None:
        """Write the denominators of the painted answer, and whether a newer one is on its way."""
        said = f" {self.counts_of()}{' · '.join(self.counted())}"
        nothing = "not answered, x says why " if self.refusal else "not answered "
        refused = nothing if self.answer is None else "old figures, u goes back "
        mark = Text("counting… " if self.counting else refused if self.refused else "", "bold")
        if not mark and not self._cut_above:
            mark = Text(self._cut_within(self.size.width - cell_len(said) - 2))
        self.query_one("#counts", Line).say(said, mark)

    def counted(self) -> list[str]:
        """The denominators of the painted answer."""
        head = self.head()
        if not head:
            return []
        revised = f"{wording.count(head.revisions)} revised, {wording.count(head.held_revisions)} held"
        parts = [wording.so_many(head.joints, "joint"), revised]
        if head.median_follow_up is not None:
            parts.append(f"median {'follow-up ' * (self.size.width >= WIDE)}{head.median_follow_up:.1f} years")
        if self.size.width >= WIDE:
            parts.insert(1, wording.so_many(head.patients, "patient"))
        return parts

    def counts_of(self) -> str:
        """Whose counts these are, where it is not the filter's joints."""
        return ""

    def say(self, sentence: str = "") -> None:
        """Write one sentence above the keys: what just happened, or else the first caution."""
        head = self.head()
        if not sentence and head and head.cautions:
            rest = len(head.cautions) - 1
            sentence = head.cautions[0]
            if rest and len(sentence) > self.size.width - 2:
                sentence = f"{sentence.partition(':')[0].rstrip('.')}. x: all cautions"
        room = self.size.width - 2
        if sentence and sentence == self.refusal and len(sentence) > room:
            sentence = f"{sentence[: room - len(ALL_OF_IT)].rstrip()}{ALL_OF_IT}"
        self.query_one("#note", Line).say(f" {sentence}")

    def is_there(self) -> bool:
        """Whether there is an answer to work with; else say that it is on its way."""
        if self.answer is None:
            self.say(self.refusal or "Still counting: the key works once the answer is there.")
        return self.answer is not None

    def say_keys(self) -> None:
        """Write the keys that work here, as many as fit; the last is always the key that lists them all."""
        shown = [f"Enter {self.ENTER}"] if self.ENTER else []
        shown += ["Esc back"] if self.trail else []
        shown += [f"{KEY_NAMES.get(b.key, b.key)} {b.description}" for b in self.active_keys() if b.action != "keys"]
        while len(line := "  ".join((*shown, "? all keys"))) > self.size.width - 2 and shown:
            shown.pop()
        self.query_one("#keys", Line).say(Text(f" {line}", style="dim"))

    def on_resize(self) -> None:
        """Say again what depends on the room."""
        self.say_where()
        self.say_keys()
        self.say_counts()

    def active_keys(self) -> list[Binding]:
        """The shown keys of this place, in order."""
        own = [b for kind in type(self).__mro__ for b in kind.__dict__.get("BINDINGS", ()) if isinstance(b, Binding)]
        return [b for b in own if b.show and self.means(b.action)]

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """Leave out the keys that mean nothing here."""
        return self.means(action)

    def means(self, action: str) -> bool:
        """Whether an action means something here; what chooses a cohort does where there is a filter."""
        return ("filter" if action in CHOOSE_COHORTS else action) not in self.WITHOUT

    # Step back and forth

    def action_undo(self) -> None:
        """Go back to the question before."""
        self._stepped(self.dashboard.history.undo(), "There is no earlier question.")

    def action_redo(self) -> None:
        """Go forth to the question that was undone."""
        self._stepped(self.dashboard.history.redo(), "There is no later question.")

    def _stepped(self, moved: bool, otherwise: str) -> None:
        if not moved:
            self.say(otherwise)
            return
        self.say_where()
        if self.question == self.wanted:
            now = self.dashboard.history.now
            others = f"{str(now.cohort) or 'every joint'}, {Place.says_how(self, now)}"
            self.say(f"Nothing changes here. At other places: {others}")
        self.ask_if_changed()

    # Move

    def action_go(self, place: str) -> None:
        """Go to a place; it is as it was left."""
        self.app.switch_mode(place)

    def action_back(self) -> None:
        """Go back to where this was opened."""
        if self.trail:
            self.dismiss()

    def open_reasons(self, group: Group) -> None:
        """Open the reasons of a group."""
        from regdash.dashboard.screens.reasons import ReasonsScreen

        named = self.trail[-1:] == (group.label,)  # as the page of one unit is
        place = ReasonsScreen(self.narrower(group.words), self.trail if named else (*self.trail, group.label))
        place.of_second = self._is_second(group.words)
        self.app.push_screen(place)

    def open_reason(self, group: Group, reason: str) -> None:
        """Open the joints of a group that were revised for a reason."""
        from regdash.dashboard.screens.joints import JointsScreen

        words = (*self.narrower(group.words), "ended=revised", f"reason={coded(reason)}")
        names = [name for name in (group.label, self.listed_as(reason)) if name not in (*self.trail, "all")]
        place = JointsScreen(words, (*self.trail, *names))
        place.of_second = self._is_second(group.words)
        self.app.push_screen(place)

    def listed_as(self, reason: str) -> str:
        """Call joints by the reason they are listed for: that of their first revision, whatever the endpoint."""
        return reason if self.question.is_any_revision else f"{reason} at first revision"

    def action_order(self) -> None:
        """Order the list by the chosen column."""
        grid = self.focused
        if not (isinstance(grid, Grid) and grid.order_by_chosen()):
            self.say("Choose a column with left and right; this one has no order.")

    def action_ask_to_quit(self) -> None:
        """Ask once, and quit."""
        self.dashboard.ask_to_quit()

    # Read

    def action_explain(self) -> None:
        """Explain the figures, or why there are none of this question."""
        if not self.refusal:
            self.explain_answer()
            return
        about = "what is painted answers the question before" if self.answer is not None else "nothing is painted"
        said = [("not answered", self.refusal), ("figures", about), ("command", self.command())]
        self.app.push_screen(Reading("explain", said))

    def explain_answer(self) -> None:
        """Explain the painted figures."""
        from regdash.dashboard.explain import explained

        if self.is_there() and (head := self.head()):
            self.read_explained(explained(head, self.withheld(), self.also(), self.command()))

    def read_explained(self, paragraphs: list[tuple[str, str]]) -> None:
        """Show an explanation, with the statements that the answer was made with before its command."""
        from regdash.dashboard.explain import with_statements

        counts = " ".join(self.query_one("#counts", Line).left.split())
        if counts and "counts" not in dict(paragraphs):
            paragraphs = [*paragraphs[:1], ("counts", counts), *paragraphs[1:]]
        self.app.push_screen(Reading("explain", with_statements(paragraphs, self.asked_sql)))

    def action_keys(self) -> None:
        """Show the keys of this place."""
        from regdash.dashboard.explain import keys_of

        self.app.push_screen(Reading("keys here", keys_of(self)))
