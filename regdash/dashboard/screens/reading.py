"""Text laid over a screen: an explanation, or the keys of a place. Any of the usual keys closes it."""

from collections.abc import Sequence
from typing import ClassVar

from rich.text import Text
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import VerticalScroll
from textual.events import Key

from regdash.dashboard.left_once import Laid
from regdash.dashboard.widgets.line import Line
from regdash.dashboard.widgets.paragraphs import Paragraphs


class Reading(Laid[None]):
    """Named paragraphs to read."""

    AUTO_FOCUS = "VerticalScroll"
    BINDINGS: ClassVar = [
        Binding("escape,backspace,x,question_mark,q,enter", "close", show=False),
        Binding("w", "copy", "copy the command", show=False),
    ]
    DEFAULT_CSS = """
    Reading { background: transparent; align: left top; }
    Reading VerticalScroll { margin-top: 1; height: auto; max-height: 100%; background: $surface;
        border-bottom: solid $primary; scrollbar-size-vertical: 1; }
    Reading Line, Reading Paragraphs { padding: 0 1; }
    """

    def __init__(self, heading: str, paragraphs: Sequence[tuple[str, str]]) -> None:
        super().__init__()
        self._heading = heading
        self._paragraphs = paragraphs

    def compose(self) -> ComposeResult:
        """Lay out a heading and the paragraphs under it."""
        with VerticalScroll():
            heading = Line()
            copies = "w copies the command · " if self._command else ""
            heading.say(Text(self._heading, style="bold"), f"↑ ↓ read on · {copies}Escape closes")
            yield heading
            yield Paragraphs(self._paragraphs)

    @property
    def _command(self) -> str:
        """The command for what is explained; empty where there is none."""
        return next((says for about, says in self._paragraphs if about == "command"), "")

    def action_copy(self) -> None:
        """Copy the command, and close."""
        if self._command:
            self.app.copy_to_clipboard(self._command)
            self.dismiss(None)

    def action_close(self) -> None:
        """Close it."""
        self.dismiss(None)


class AskedOnce(Laid[bool]):
    """One question with yes or no, in one line."""

    BINDINGS: ClassVar = [
        Binding("q,y,enter", "answer(True)", show=False),
        Binding("escape,n,backspace", "answer(False)", show=False),
    ]
    DEFAULT_CSS = """
    AskedOnce { background: transparent; align: left bottom; }
    AskedOnce Line { background: $surface; text-style: bold; }
    """

    def __init__(self, question: str) -> None:
        super().__init__()
        self._question = question

    def compose(self) -> ComposeResult:
        """Lay out the question."""
        line = Line()
        line.say(self._question)
        yield line

    def action_answer(self, answer: bool) -> None:
        """Give the answer."""
        self.dismiss(answer)


class Offered(AskedOnce, inherit_bindings=False):
    """An offer in one line: Enter takes it, Escape does not, and any other key does what it does without it."""

    BINDINGS: ClassVar = [
        Binding("enter", "answer(True)", show=False),
        Binding("escape,backspace", "answer(False)", show=False),
    ]

    async def on_key(self, event: Key) -> None:
        """Leave the offer, and pass the key on; those that come in one go with it were aimed here too."""
        if event.key not in ("enter", "escape", "backspace") or not self.is_active:
            event.stop()
            event.prevent_default()
            self.dismiss(False)
            await self.app.on_event(Key(event.key, event.character))
