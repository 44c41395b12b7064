"""The app: it opens a data cut, holds the question that all places answer, and moves between places."""

from __future__ import annotations

import asyncio
import os
import select
import signal
import threading
from collections.abc import Callable, Sequence
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING, Any, ClassVar

from rich.console import RenderableType
from textual import work
from textual.app import App
from textual.binding import Binding
from textual.events import Key
from textual.filter import LineFilter
from textual.geometry import Offset
from textual.message import Message
from textual.screen import Screen

from regdash import cohort as filters
from regdash.dashboard.asked import Asked, History
from regdash.dashboard.changed_cells import ChangedCells, Written
from regdash.dashboard.commands import Commands
from regdash.dashboard.keyboard import Keyboard
from regdash.dashboard.last_place import Keeper, LastPlace
from regdash.dashboard.painting import DARK_PALETTE, LIGHT_PALETTE, THEMES, filters_for
from regdash.dashboard.place import Place
from regdash.dashboard.screens.compare import CompareScreen
from regdash.dashboard.screens.cuts import CutsScreen
from regdash.dashboard.screens.implants import ImplantsScreen
from regdash.dashboard.screens.quality import QualityScreen
from regdash.dashboard.screens.reading import AskedOnce, Offered, Reading
from regdash.dashboard.screens.reasons import ReasonsScreen
from regdash.dashboard.screens.register import RegisterScreen
from regdash.dashboard.screens.risk import RiskScreen
from regdash.dashboard.screens.sql import SqlScreen
from regdash.dashboard.screens.units import UnitsScreen
from regdash.dashboard.terminal import Look
from regdash.dashboard.widgets.prompt import Prompt, Typed
from regdash.errors import RegdashError

if TYPE_CHECKING:
    from regdash.dashboard.questions import Questions

OpenDesk = Callable[[str | None], "Questions"]
LEAVING = 5.0  # seconds that a session without a terminal takes to end, at most


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
        Binding("ctrl+l", "paint_anew", "paint the whole screen anew", show=False, priority=True),
    ]
    CSS = """
    Screen { scrollbar-size: 1 1; }
    Line#places { text-style: reverse; }
    """

    class Opened(Message):
        """A data cut is open; where it holds several joints, one of them is looked at first."""

        def __init__(self, desk: Questions, first_joint: str | None, lost: str | None = None) -> None:
            super().__init__()
            self.desk = desk
            self.lost = lost  # what is to be told of the store before anything else
            self.first_joint = first_joint

    class Refused(Message):
        """A data cut cannot be opened."""

        def __init__(self, refusal: RegdashError) -> None:
            super().__init__()
            self.refusal = refusal

    def __init__(
        self,
        open_desk: OpenDesk,
        cut: str | None,
        asked: Asked,
        look: Look | None = None,
        keeper: Keeper | None = None,
    ) -> None:
        self._last_filters = filters_for(look or Look())
        self._changed_cells = ChangedCells()
        self._cursor_shown: Offset | None = None  # where the terminal's own cursor stands
        super().__init__(driver_class=Keyboard)
        if look is not None:
            self.ansi_theme_dark, self.ansi_theme_light = DARK_PALETTE, LIGHT_PALETTE
            self.theme = THEMES[look.theme]
        self._leaving = False
        self._keeper = keeper  # None: nothing is kept of this session
        self.history = History(asked)
        self.desk: Questions | None = None
        self._open_desk = open_desk
        self._first_cut = cut

    # Open

    def on_mount(self) -> None:
        """Open the cut while the empty place is painted."""
        if self._keeper is not None:
            for number in (signal.SIGHUP, signal.SIGTERM):
                asyncio.get_running_loop().add_signal_handler(number, self.leave, number)
            watch = threading.Thread(target=self._watch_terminal, args=(asyncio.get_running_loop(),), daemon=True)
            watch.start()
        self.open_cut(self._first_cut)

    @work(thread=True, group="open")
    def open_cut(self, cut: str | None) -> None:
        """Open a data cut; every place then asks it."""
        desk = None
        try:
            desk = self._open_desk(cut)
            filters.parse(self.history.now.cohort.words, known=desk.known)
            self.post_message(self.Opened(desk, desk.first_joint, desk.lost_office))
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
        if before is None:
            self._offer_last_place()
            if message.lost:
                self.push_screen(Reading("before you begin", [("office file", message.lost)]))

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

    # What goes to the terminal

    def get_line_filters(self) -> Sequence[LineFilter]:
        """What lines go through on their way to the terminal."""
        return [*super().get_line_filters(), *self._last_filters]

    def _display(self, screen: Screen[Any], renderable: RenderableType | None) -> None:
        """Write of an update what the terminal does not show yet."""
        cells, shown = self._changed_cells, self._running and not self._batch_count and not self.is_headless
        if shown and cells.bears(renderable):
            sequence = cells.written(renderable, self.size, self.console)
            if sequence or self.cursor_position != self._cursor_shown:
                super()._display(screen, Written(sequence))
                self._cursor_shown = self.cursor_position
            return
        if shown and renderable is not None:
            cells.forget()
        super()._display(screen, renderable)

    def on_resize(self) -> None:
        """A terminal of another size may show anything."""
        self._changed_cells.forget()

    def action_paint_anew(self) -> None:
        """Paint the whole screen, for a line that garbled it."""
        self._changed_cells.forget()
        self.screen.refresh()

    # A dropped connection

    def leave(self, number: int) -> None:
        """Keep the place and end, because the terminal is gone (SIGHUP) or the session is ended (SIGTERM)."""
        if self._leaving:
            return
        self._leaving = True
        if self._keeper is not None:
            self._keeper.keep(LastPlace(self.current_mode, self.history.now))
        if number == signal.SIGHUP:
            # Nobody reads any more; a write to a terminal that is gone would fail, and keep the program from ending.
            nowhere = os.open(os.devnull, os.O_RDWR)
            for stream in (0, 1, 2):
                os.dup2(nowhere, stream)
            os.close(nowhere)
        late = threading.Timer(LEAVING, os._exit, (128 + number,))
        late.daemon = True
        late.start()
        self.exit(return_code=128 + number)

    def _watch_terminal(self, loop: asyncio.AbstractEventLoop) -> None:
        """Wait for the terminal to go, for it may do so without a signal: its reader would then read on for ever."""
        gone = select.poll()
        gone.register(0, 0)  # a terminal that has gone is told of whatever is asked for
        if not any(told & (select.POLLHUP | select.POLLERR) for _, told in gone.poll()):
            return  # a system that cannot say so of terminals
        with suppress(RuntimeError):  # the program is ending anyway
            loop.call_soon_threadsafe(self.leave, signal.SIGHUP)

    def panic(self, *renderables: Any) -> None:
        """Show the traceback of a bug; a terminal that cannot be read any more is none."""
        if self._keeper is not None and not os.isatty(0):
            self.leave(signal.SIGHUP)
        else:
            super().panic(*renderables)

    def _offer_last_place(self) -> None:
        """Ask whether to go on where the last session was cut off."""
        keeper = self._keeper
        last = keeper.kept() if keeper else None
        if keeper is None or last is None or last.place not in self.MODES:
            return

        def done(yes: bool | None) -> None:
            keeper.forget()
            if yes:
                self.history.change(last.asked)
                self.switch_mode(last.place)
                self.call_after_refresh(self._ask_there)

        self.push_screen(Offered(f" Cut off last time: Enter goes back there, Escape stays. It was {last}"), done)

    def _ask_there(self) -> None:
        self.place.say_where()
        self.place.ask_if_changed()

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
