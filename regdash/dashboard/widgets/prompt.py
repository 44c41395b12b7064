"""
A line to type in, laid over the top of a screen, with what it may become listed under it.

Tab takes the marked candidate, or the first; Enter finishes; Escape leaves everything as it was.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Generic, TypeVar

from rich.text import Text
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Vertical
from textual.screen import ModalScreen
from textual.widgets import Input, Static

from regdash.dashboard.widgets.line import Line
from regdash.errors import RegdashError

Answer = TypeVar("Answer")
MOST_LISTED = 10


@dataclass(frozen=True)
class Candidate:
    """What the typed text may become: the whole new text, what the list says, and a remark beside it."""

    text: str
    shown: str
    remark: str = ""


class PromptInput(Input):
    """An input that leaves Tab and the arrows to its prompt."""

    BINDINGS = [
        Binding("tab", "screen.take", show=False, priority=True),
        Binding("down", "screen.mark(1)", show=False),
        Binding("up", "screen.mark(-1)", show=False),
    ]


class Prompt(ModalScreen[Answer | None], Generic[Answer]):
    """Ask for one line. Subclasses list candidates and read the finished text."""

    AUTO_FOCUS = "PromptInput"
    BINDINGS = [Binding("escape", "leave", show=False)]
    DEFAULT_CSS = """
    Prompt { background: transparent; align: left top; }
    Prompt Vertical { height: auto; width: 100%; margin-top: 1; background: $surface; border-bottom: solid $primary; }
    Prompt Input, Prompt Input:focus { height: 1; border: none; padding: 0; background: $surface; }
    Prompt #listed { height: auto; }
    """
    heading = ""
    keys = "Tab takes the marked word · Enter done · Escape leave"
    takes_on_enter = False  # whether Enter on a marked candidate only completes the text

    def __init__(self, text: str = "") -> None:
        super().__init__()
        self._first = text
        self._marked = -1
        self._listed: Sequence[Candidate] = ()

    def candidates(self, text: str) -> Sequence[Candidate]:
        """List what the text may become."""
        raise NotImplementedError

    def finish(self, text: str) -> Answer:
        """
        Read the finished text.

        Raises:
            RegdashError: it cannot be read; the sentence is shown and nothing closes.
        """
        raise NotImplementedError

    def remark(self, text: str) -> str:
        """Say something about the text as it stands."""
        return ""

    # Layout

    def compose(self) -> ComposeResult:
        """Lay out the input, a remark and the list."""
        with Vertical():
            yield Line(id="heading")
            typed = PromptInput(self._first, select_on_focus=False, compact=True)
            typed.cursor_blink = False
            yield typed
            yield Line(id="remark")
            yield Static(id="listed", markup=False)

    def on_mount(self) -> None:
        """Say what is asked for and list the first candidates."""
        self.query_one("#heading", Line).say(Text(self.heading, style="bold"), self.keys)
        self.relist()

    def relist(self) -> None:
        """List the candidates of the text as it stands."""
        text = self.query_one(PromptInput).value
        self._listed = self.candidates(text)
        self._marked = min(self._marked, len(self._listed) - 1)
        self._paint()

    def say(self, sentence: str) -> None:
        """Show one sentence under the input."""
        self.query_one("#remark", Line).say(sentence)

    def _paint(self) -> None:
        first = max(0, min(self._marked - MOST_LISTED + 2, len(self._listed) - MOST_LISTED))
        page = self._listed[first : first + MOST_LISTED]
        width = max((len(candidate.shown) for candidate in page), default=0) + 2
        lines = []
        for n, candidate in enumerate(page, first):
            marked = n == self._marked
            line = Text(("▸" if marked else " ") + candidate.shown.ljust(width) + candidate.remark, no_wrap=True)
            line.stylize("reverse" if marked else "")
            lines.append(line)
        rest = len(self._listed) - first - len(page)
        if rest:
            lines.append(Text(f"  … {rest} more", style="dim"))
        self.query_one("#listed", Static).update(Text("\n").join(lines))

    # Keys

    def on_input_changed(self, event: Input.Changed) -> None:
        """List again as the text changes."""
        self._marked = -1
        self.relist()
        self.say(self.remark(event.value))

    def action_mark(self, rows: int) -> None:
        """Mark another candidate."""
        self._marked = max(-1, min(self._marked + rows, len(self._listed) - 1))
        self._paint()

    def action_take(self) -> None:
        """Take the marked candidate, or the first."""
        if self._listed:
            typed = self.query_one(PromptInput)
            typed.value = self._listed[max(0, self._marked)].text
            typed.cursor_position = len(typed.value)

    def action_leave(self) -> None:
        """Leave everything as it was."""
        self.dismiss(None)

    def on_input_submitted(self, event: Input.Submitted) -> None:
        """Finish; a marked candidate is taken first."""
        text = event.value
        if self._marked >= 0 and self._listed:
            if self.takes_on_enter:
                self.action_take()
                return
            text = self._listed[self._marked].text
        try:
            answer = self.finish(text)
        except RegdashError as refusal:
            self.say(str(refusal))
            return
        self.dismiss(answer)
