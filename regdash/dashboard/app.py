"""The app: it opens a data cut, holds the question that all places answer, and moves between places."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

from textual import work
from textual.app import App
from textual.binding import Binding
from textual.events import Key
from textual.message import Message

from regdash import cohort as filters
from regdash.dashboard.asked import Asked, History
from regdash.dashboard.commands import Commands
from regdash.dashboard.place import Place
from regdash.dashboard.screens.compare import CompareScreen
from regdash.dashboard.screens.cuts import CutsScreen
from regdash.dashboard.screens.implants import ImplantsScreen
from regdash.dashboard.screens.quality import QualityScreen
from regdash.dashboard.screens.reading import AskedOnce
from regdash.dashboard.screens.reasons import ReasonsScreen
from regdash.dashboard.screens.register import RegisterScreen
from regdash.dashboard.screens.risk import RiskScreen
from regdash.dashboard.screens.sql import SqlScreen
from regdash.dashboard.screens.units import UnitsScreen
from regdash.dashboard.widgets.prompt import Prompt, Typed
from regdash.errors import RegdashError

if TYPE_CHECKING:
    from regdash.dashboard.questions import Questions

OpenDesk = Callable[[str | None], "Questions"]


def opener(store: Path) -> OpenDesk:
    """Say how a data cut of a store is opened; what that needs is imported then."""

    def open_desk(cut: str | None) -> Questions:
        from regdash.signals.desk import SignalsDesk

        return SignalsDesk(store, cut)

    return open_desk


class Dashboard(App[RegdashError], inherit_bindings=False):
    """The dashboard. `desk` is None until the cut is open."""

    TITLE = "regdash"
    MODES: ClassVar = {
        "register": RegisterScreen,
        "risk": RiskScreen,
        "reasons": ReasonsScreen,
        "compare": CompareScreen,
        "implants": ImplantsScreen,
        "units": UnitsScreen,
        "quality": QualityScreen,
        "cuts": CutsScreen,
        "sql": SqlScreen,
    }
    DEFAULT_MODE = "risk"
    COMMANDS: ClassVar = {Commands}
    BINDINGS: ClassVar = [
        Binding("ctrl+x", "stop", "cancel the running question", show=False, priority=True),
        Binding("ctrl+c", "ask_to_quit", "quit", show=False),
    ]
    CSS = """
    Screen { scrollbar-size: 1 1; }
    Line#places { text-style: reverse; }
    """

    class Opened(Message):
        """A data cut is open; where it holds several joints, one of them is looked at first."""

        def __init__(self, desk: Questions, first_joint: str | None) -> None:
            super().__init__()
            self.desk = desk
            self.first_joint = first_joint

    class Refused(Message):
        """A data cut cannot be opened."""

        def __init__(self, refusal: RegdashError) -> None:
            super().__init__()
            self.refusal = refusal

    def __init__(self, open_desk: OpenDesk, cut: str | None, asked: Asked) -> None:
        super().__init__()
        self.history = History(asked)
        self.desk: Questions | None = None
        self._open_desk = open_desk
        self._first_cut = cut

    # Open

    def on_mount(self) -> None:
        """Open the cut while the empty place is painted."""
        self.open_cut(self._first_cut)

    @work(thread=True, group="open")
    def open_cut(self, cut: str | None) -> None:
        """Open a data cut; every place then asks it."""
        desk = None
        try:
            desk = self._open_desk(cut)
            filters.parse(self.history.now.cohort.words, known=desk.known)
            self.post_message(self.Opened(desk, desk.first_joint))
        except RegdashError as refusal:  # no such cut, or it lacks a code of the filter
            if desk is not None:
                desk.close()
            self.post_message(self.Refused(refusal))

    def on_dashboard_opened(self, message: Opened) -> None:
        """Take over the newly opened cut and ask it."""
        before, self.desk = self.desk, message.desk
        if before is not None:
            before.close()
        else:
            self.history = History(self.history.now.looking_at(message.first_joint))
        for stack in self._screen_stacks.values():
            for screen in stack:
                if isinstance(screen, Place):
                    screen.wanted = None
        self.place.say_where()
        self.place.ask()

    def on_dashboard_refused(self, message: Refused) -> None:
        """Leave with the refusal where nothing is open, else say it."""
        if self.desk is None:
            self.exit(message.refusal)
        else:
            self.place.say(str(message.refusal))

    @property
    def place(self) -> Place:
        """The place in front, whatever is laid over it."""
        return next(screen for screen in reversed(self.screen_stack) if isinstance(screen, Place))

    # Keys that work whatever is laid over a place

    def action_stop(self) -> None:
        """Cancel the running question."""
        self.place.action_stop()

    def ask_to_quit(self) -> None:
        """Ask once, and quit."""

        def done(yes: bool | None) -> None:
            if yes:
                self.exit()

        if not isinstance(self.screen, AskedOnce):
            self.push_screen(AskedOnce(" Quit? q or Enter quits, Escape stays."), done)

    def action_ask_to_quit(self) -> None:
        """Ask once, and quit."""
        self.ask_to_quit()

    async def on_key(self, event: Key) -> None:
        """
        Pass on to a prompt what was typed before it was there: keys that come in one go, as over a slow line,
        are aimed at the list that had the focus, and would be lost.
        """
        if isinstance(self.screen, Prompt):
            typed = self.screen.typed
            if isinstance(typed, Typed) and typed.seen is not event:
                event.prevent_default()
                await self.on_event(Key(event.key, event.character))

    def on_unmount(self) -> None:
        """End what is under way, so that its thread ends too."""
        for stack in self._screen_stacks.values():
            for screen in stack:
                if isinstance(screen, Place):
                    screen.generation += 1
        if self.desk is not None:
            self.desk.cancel()
