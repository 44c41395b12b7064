"""Driving the dashboard by keys, without a terminal."""

import asyncio
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager

from textual.events import Key
from textual.pilot import Pilot
from textual.worker import WorkerState

from regdash import cohort
from regdash.dashboard.app import Dashboard
from regdash.dashboard.asked import Asked
from regdash.dashboard.widgets.grid import Grid
from tests.dashboard.fake_desk import FakeDesk

NAMES = {
    "@": "at",
    " ": "space",
    "=": "equals_sign",
    ",": "comma",
    ":": "colon",
    ".": "full_stop",
    "-": "minus",
    "/": "slash",
    "_": "underscore",
    "+": "plus",
    "?": "question_mark",
    "[": "left_square_bracket",
    "]": "right_square_bracket",
}
SIGNS = {name: sign for sign, name in NAMES.items()}
ROUNDS = 4  # a message that is worked off may send another; none of ours goes on for longer


class Driver:
    """A running dashboard, its desk, and what is on its screen."""

    def __init__(self, app: Dashboard, pilot: Pilot, desk: FakeDesk) -> None:
        self.app, self.pilot, self.desk = app, pilot, desk

    async def press(self, *keys: str) -> None:
        """Press keys and wait for the answers."""
        for key in keys:
            self._send(key)
            await self.settled()

    async def type(self, text: str) -> None:
        """Type a text: all keys in one go, as over a slow line."""
        for sign in text:
            self._send(sign)
        await self.settled()

    async def enter(self, text: str) -> None:
        """Put a text in the place of what a prompt holds, and enter it, all in one go."""
        self._send("ctrl+u")
        for sign in text:
            self._send(sign)
        await self.press("enter")

    def _send(self, key: str) -> None:
        """Send a key, by its sign or by its name, as the terminal's driver does."""
        driver = self.app._driver
        assert driver is not None
        event = Key(NAMES.get(key, key), SIGNS.get(key) or (key if len(key) == 1 else None))
        event.set_sender(self.app)
        driver.send_message(event)

    async def settled(self) -> None:
        """Wait until nothing is asked any more and everything is painted."""
        await self.until(lambda: not self.running and not self.app.place.counting)

    async def until(self, so: Callable[[], bool], seconds: float = 10.0) -> None:
        """Wait until something is so."""
        gives_up = asyncio.get_running_loop().time() + seconds
        for _ in range(ROUNDS):
            await self.pilot.pause(0)
        while not so():
            assert asyncio.get_running_loop().time() < gives_up, "It never became so:\n" + self.text
            await self.pilot.pause(0.01)
        # What goes to an end waits for the next painting, which a busy machine puts off.
        await self.pilot.wait_for_scheduled_animations()
        for _ in range(ROUNDS):
            await self.pilot.pause(0)
        await self.pilot.pause()

    @property
    def running(self) -> bool:
        """Whether a question is on its way."""
        return any(worker.state in (WorkerState.PENDING, WorkerState.RUNNING) for worker in self.app.workers)

    @property
    def lines(self) -> list[str]:
        """What the screen shows."""
        return [strip.text for strip in self.app.screen._compositor.render_strips()]

    @property
    def text(self) -> str:
        """What the screen shows, in one piece."""
        return "\n".join(self.lines)

    @property
    def grid(self) -> Grid:
        """The list that has the focus."""
        assert isinstance(self.app.focused, Grid)
        return self.app.focused

    def at_cursor(self) -> str:
        """The line that the cursor stands on."""
        return next(line for line in self.lines if line.startswith("▸")).strip()

    def asked(self, question: str) -> list[object]:
        """What the desk was asked of one kind."""
        return [about for kind, about in self.desk.asked if kind == question]


@asynccontextmanager
async def driven(
    words: str = "", size: tuple[int, int] = (80, 24), desk: FakeDesk | None = None
) -> AsyncIterator[Driver]:
    """Open the dashboard on a desk of plain formulas."""
    desk = desk or FakeDesk()
    app = Dashboard(lambda cut: desk, None, Asked(cohort.parse(words)))
    async with app.run_test(size=size) as pilot:
        driver = Driver(app, pilot, desk)
        await driver.until(lambda: app.desk is not None)
        if not desk.slow:
            await driver.settled()
        yield driver
