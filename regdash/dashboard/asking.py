"""
How a screen asks: off the event loop, one question at a time. The last answer stays until a newer one is there, an
overtaken question is cancelled, and a late answer is dropped.
"""

from __future__ import annotations

import threading
from typing import TYPE_CHECKING, Any

from textual import work
from textual.message import Message

from regdash.dashboard.asked import Asked
from regdash.dashboard.left_once import LeftOnce
from regdash.errors import Cancelled, RegdashError

if TYPE_CHECKING:
    from regdash.dashboard.app import Dashboard
    from regdash.dashboard.questions import Questions


PAINTING = 0.5  # seconds that what stands beside an answer waits for it to be painted, at most


class Asking(LeftOnce[None]):
    """A screen that has a question, fetches its answer on a thread and paints it."""

    class Answered(Message):
        """An answer, or a refusal, to the question of a generation."""

        def __init__(
            self, generation: int, asked: Asked, answer: Any, more: bool = False, asked_sql: tuple[str, ...] = ()
        ) -> None:
            super().__init__()
            self.asked_sql = asked_sql  # the statements that it was made with
            self.generation, self.asked, self.answer, self.more = generation, asked, answer, more

    def __init__(self) -> None:
        super().__init__()
        self.generation = 0  # of the question under way; answers of another one are late
        self.wanted: Asked | None = None  # the question under way, or answered last
        self.asked: Asked | None = None  # the question whose answer is painted
        self.answer: Any = None
        self.asked_sql: tuple[str, ...] = ()  # the statements that the painted answer was made with
        self.counting = False
        self.stopped = False  # the reader cancelled the question under way
        self.refused = False  # the painted answer is not that of the question
        self.refusal = ""  # and why
        self._painted = threading.Event()  # the answer of this generation is on the screen

    # What a subclass says

    @property
    def question(self) -> Asked:
        """The question of this screen."""
        raise NotImplementedError

    def fetch(self, desk: Questions, asked: Asked) -> Any:
        """Ask; runs on a thread of its own."""
        raise NotImplementedError

    def fetch_more(self, desk: Questions, asked: Asked) -> Any:
        """Ask what may follow once the first answer is painted; None where there is nothing."""
        return None

    def paint(self) -> None:
        """Hand `self.answer` to the widgets."""
        raise NotImplementedError

    def paint_more(self, answer: Any) -> None:
        """Hand the second answer to the widgets."""

    def say_where(self) -> None:
        """Write where we are and what is asked."""
        raise NotImplementedError

    def say_counts(self) -> None:
        """Write what the painted answer rests on, and whether a newer one is on its way."""
        raise NotImplementedError

    def say(self, sentence: str = "") -> None:
        """Write one sentence."""
        raise NotImplementedError

    @property
    def dashboard(self) -> Dashboard:
        """The app, by its own type."""
        from regdash.dashboard.app import Dashboard

        assert isinstance(self.app, Dashboard)
        return self.app

    # Ask

    def ask_if_changed(self) -> None:
        """Ask unless the answer to this very question is painted or on its way."""
        if self.dashboard.desk is not None and self.question != self.wanted:
            self.ask()

    def ask(self) -> None:
        """Ask; the old answer stays until the new one is there, and the overtaken question is cancelled."""
        desk = self.dashboard.desk
        if desk is None:
            return
        self.generation += 1
        self.stopped = self.refused = False
        self.refusal = ""
        self._painted.clear()
        self.wanted = self.question
        desk.cancel()
        self.counting = True
        self.say_where()
        self.say_counts()
        self._fetch(desk, self.generation, self.wanted)

    @work(thread=True, group="question")
    def _fetch(self, desk: Questions, generation: int, asked: Asked) -> None:
        if generation != self.generation:
            return  # overtaken before its thread began
        try:
            desk.take_asked_sql()  # what this thread asked before is not of this question
            answer = self.fetch(desk, asked)
            self.post_message(self.Answered(generation, asked, answer, asked_sql=desk.take_asked_sql()))
            # What stands beside the answer must not delay it: both would want the same processor.
            self._painted.wait(PAINTING)
            more = self.fetch_more(desk, asked) if generation == self.generation else None
            if more is not None:
                asked_sql = desk.take_asked_sql()
                self.post_message(self.Answered(generation, asked, more, more=True, asked_sql=asked_sql))
        except RegdashError as refusal:
            self.post_message(self.Answered(generation, asked, refusal))

    def on_asking_answered(self, message: Answered) -> None:
        """Paint an answer, unless the reader has moved on."""
        if message.generation != self.generation:
            return
        self.counting = False
        if isinstance(message.answer, Cancelled):
            self._cancelled()
        elif isinstance(message.answer, RegdashError):
            self.refused, self.refusal = True, str(message.answer)
            self.say_counts()
            self.say(self.refusal)
        elif message.more:
            self.asked_sql = tuple(dict.fromkeys((*self.asked_sql, *message.asked_sql)))
            self.paint_more(message.answer)
        else:
            self.answer, self.asked, self.asked_sql = message.answer, message.asked, message.asked_sql
            self.paint()
            self.say_counts()
            self.say()
            self.call_after_refresh(self._painted.set)

    def _cancelled(self) -> None:
        """Go back to the question that the painted answer belongs to, so that both always agree."""
        self.say_counts()
        if not self.stopped:
            self.wanted = None  # another place overtook it; ask again on return
            return
        if self.asked is not None and self.dashboard.history.undo():
            self.wanted = self.asked if self.question == self.asked else None
            self.say_where()
            self.say("Cancelled; this is the question before. U asks the cancelled one again.")
            self.ask_if_changed()
        else:
            self.say("Cancelled. r asks again.")

    def action_stop(self) -> None:
        """Cancel the running question."""
        if self.counting and self.dashboard.desk is not None:
            self.stopped = True
            self.dashboard.desk.cancel()

    def action_again(self) -> None:
        """Ask the same question again."""
        self.ask()
