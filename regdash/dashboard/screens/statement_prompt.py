"""Writing a statement in SQL: several lines, with the views and columns that fit what is typed."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any

from textual.document._document import Document
from textual.widget import Widget
from textual.widgets import TextArea

from regdash.dashboard.sql_words import candidates
from regdash.dashboard.widgets.prompt import Candidate, Prompt, Typed
from regdash.errors import StatementError

if TYPE_CHECKING:
    from regdash.reports.statements import Relation

LONGEST = 100_000  # signs of a statement


class StatementInput(Typed, TextArea):
    """Several lines to type in; the arrows move among them, and mark a candidate where there is one line."""

    DEFAULT_CSS = """
    StatementInput, StatementInput:focus { height: auto; min-height: 1; max-height: 8; border: none; padding: 0;
        background: $surface; scrollbar-size-vertical: 1; }
    """

    @property
    def place(self) -> int:
        """Where the cursor stands, in signs from the beginning."""
        assert isinstance(self.document, Document)
        return self.document.get_index_from_location(self.cursor_location)

    @place.setter
    def place(self, signs: int) -> None:
        assert isinstance(self.document, Document)
        self.move_cursor(self.document.get_location_from_index(signs))

    def own_keys(self, prompt: Prompt[Any]) -> dict[str, Callable[[], object]]:
        """Several lines leave the arrows to the text."""
        own = super().own_keys(prompt) | {"ctrl+j": lambda: self.insert("\n")}
        if self.document.line_count > 1:
            del own["up"], own["down"]
        return own


class StatementPrompt(Prompt[str]):
    """Ask for one statement."""

    heading = "one SELECT"
    keys = "Tab completes · Enter asks · ctrl+j new line · Escape leaves"
    takes_on_enter = True

    def __init__(self, text: str, relations: Sequence[Relation]) -> None:
        super().__init__(text)
        self._relations = relations
        self.left = ""  # the text that Escape left

    def made_typed(self, text: str) -> Widget:
        """Make several lines to type in, the cursor behind the last."""
        typed = StatementInput(text, id="typed", compact=True, soft_wrap=True, highlight_cursor_line=False)
        typed.cursor_blink = False
        typed.move_cursor(typed.document.end)
        return typed

    @property
    def _area(self) -> StatementInput:
        return self.query_one(StatementInput)

    @property
    def text(self) -> str:
        """The statement as it stands."""
        return self._area.text

    def put(self, candidate: Candidate) -> None:
        """Take a candidate; the cursor stands behind the word that was completed."""
        area = self._area
        behind = len(area.text) - area.place
        area.text = candidate.text
        area.place = len(candidate.text) - behind

    def candidates(self, text: str) -> Sequence[Candidate]:
        """List what the word under the cursor may become."""
        return candidates(text, self._area.place, self._relations)

    def on_text_area_changed(self, event: TextArea.Changed) -> None:
        """List again as the text changes."""
        self.changed(event.text_area.text)

    def action_leave(self) -> None:
        """Leave, and keep the text for the next time: a statement is long to type."""
        self.left = self.text
        super().action_leave()

    def finish(self, text: str) -> str:
        """Give the statement; what is wrong with it the answer says."""
        if not text.strip():
            raise StatementError("There is no statement yet. Escape leaves.")
        if len(text) > LONGEST:
            raise StatementError(f"A statement of {len(text):,} signs is longer than the {LONGEST:,} that are taken.")
        return text.strip()
