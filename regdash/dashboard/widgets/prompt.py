"""
A line to type in, laid over the top of a screen, with what it may become listed under it.

Tab takes the marked candidate, or the first; Enter finishes; Escape leaves everything as it was.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, ClassVar, Generic, TypeVar

from rich.text import Text
from textual.app import ComposeResult
from textual.binding import Binding
from textual.containers import Vertical
from textual.events import Key
from textual.widget import Widget
from textual.widgets import Input, Static

from regdash.dashboard.left_once import Laid
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


class Typed:
    """
    What makes a widget to type in leave Tab, Enter and the arrows to its prompt.

    They are taken here, in the order in which they were typed, and not as bindings, which would come before or after
    the letters around them where several keys come in one go; so are the keys that move and delete in the text.
    """

    seen: Key | None = None  # the last key that reached it

    def own_keys(self, prompt: "Prompt[Any]") -> dict[str, Callable[[], object]]:
        """What the prompt does with keys of its own."""
        return {
            "tab": prompt.action_take,
            "enter": prompt.action_finish,
            "down": lambda: prompt.action_mark(1),
            "up": lambda: prompt.action_mark(-1),
        }

    async def on_key(self, event: Key) -> None:
        """Take the prompt's own keys and those of editing; the rest is typing."""
        self.seen = event
        assert isinstance(self, Widget)
        assert isinstance(self.screen, Prompt)
        if self.screen.closed:  # typed after Enter in one go: it is meant for what lies under the prompt
            event.stop()
            event.prevent_default()
            self.app.post_message(Key(event.key, event.character))
            return
        own = self.own_keys(self.screen)
        if event.key in own:
            event.stop()
            event.prevent_default()
            own[event.key]()
        elif edits := self._bindings.key_to_bindings.get(event.key):
            event.stop()
            event.prevent_default()
            for edit in edits:
                await self.run_action(edit.action)


class PromptInput(Typed, Input):
    """One line to type in."""


class Prompt(Laid[Answer | None], Generic[Answer]):
    """Ask for one line. Subclasses list candidates and read the finished text."""

    AUTO_FOCUS = "#typed"
    BINDINGS: ClassVar = [Binding("escape", "leave", show=False)]
    DEFAULT_CSS = """
    Prompt { background: transparent; align: left top; }
    Prompt Vertical { height: auto; width: 100%; margin-top: 1; background: $surface; border-bottom: solid $primary; }
    Prompt Input, Prompt Input:focus { height: 1; border: none; padding: 0; background: $surface; }
    Prompt #listed { height: auto; }
    """
    heading = ""
    keys = "Tab takes · Enter done · Escape leaves"
    takes_on_enter = False  # whether Enter on a marked candidate only completes the text

    def __init__(self, text: str = "") -> None:
        super().__init__()
        self.closed = False
        self._first = text
        self._marked = -1
        self._listed: Sequence[Candidate] = ()
        self._refusal: tuple[str | None, str] = (None, "")  # the text that was refused last, and why

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

    # What is typed in

    def made_typed(self, text: str) -> Widget:
        """Make what is typed in, under the id `typed`."""
        typed = PromptInput(text, select_on_focus=False, compact=True, id="typed")
        typed.cursor_blink = False
        return typed

    @property
    def typed(self) -> Widget:
        """What is typed in."""
        return self.query_one("#typed")

    @property
    def text(self) -> str:
        """The text as it stands."""
        return self.query_one(PromptInput).value

    def put(self, candidate: Candidate) -> None:
        """Take a candidate as the text."""
        typed = self.query_one(PromptInput)
        typed.value = candidate.text
        typed.cursor_position = len(typed.value)

    # Layout

    def compose(self) -> ComposeResult:
        """Lay out the input, a remark and the list."""
        with Vertical():
            yield Line(id="heading")
            yield self.made_typed(self._first)
            yield Line(id="remark")
            yield Static(id="listed", markup=False)

    def on_mount(self) -> None:
        """Say what is asked for and list the first candidates."""
        self.query_one("#heading", Line).say(Text(self.heading, style="bold"), self.keys)
        self.set_focus(self.typed)
        self.relist()

    def relist(self) -> None:
        """List the candidates of the text as it stands."""
        self._listed = self.candidates(self.text)
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
        self.changed(event.value)

    def changed(self, text: str) -> None:
        """List again, for a text that has changed."""
        self._marked = -1
        self.relist()
        refused, sentence = self._refusal
        self.say(sentence if text == refused else self.remark(text))

    def action_mark(self, rows: int) -> None:
        """Mark another candidate."""
        self._marked = max(-1, min(self._marked + rows, len(self._listed) - 1))
        self._paint()

    def action_take(self) -> None:
        """Take the marked candidate, or the first."""
        listed = self.candidates(self.text)
        if listed:
            self.put(listed[max(0, min(self._marked, len(listed) - 1))])
            self._marked = -1

    def action_leave(self) -> None:
        """Leave everything as it was."""
        self.closed = True
        self.dismiss(None)

    def action_finish(self) -> None:
        """Finish; a marked candidate is taken first."""
        text = self.text
        if self._marked >= 0 and self._listed:
            if self.takes_on_enter:
                self.action_take()
                return
            text = self._listed[self._marked].text
        try:
            answer = self.finish(text)
        except RegdashError as refusal:
            self._refusal = (text, str(refusal))
            self.say(str(refusal))
            return
        self.closed = True
        self.dismiss(answer)
