"""Deciding on a signal: where its review goes, and why; what was decided so far stands below."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, ClassVar

from rich.table import Table
from rich.text import Text
from textual.app import ComposeResult
from textual.containers import VerticalScroll
from textual.widgets import Static

from regdash.dashboard.widgets.prompt import Candidate, Prompt
from regdash.errors import ReviewError

if TYPE_CHECKING:
    from regdash.signals.model import SignalRow, SignalsReport


@dataclass(frozen=True)
class Decision:
    """What was typed, and which decision whoever typed it had read."""

    state: str
    why: str
    window: str
    after: int


class DecidePrompt(Prompt[Decision]):
    """Ask for a state and the reason, in one line; a window before them makes it of that window alone."""

    keys = "Tab takes · Enter decides"
    takes_on_enter = True
    DEFAULT_CSS: ClassVar = """
    DecidePrompt #life { height: auto; max-height: 10; scrollbar-size-vertical: 1; padding: 0 1; }
    """

    def __init__(self, row: SignalRow, report: SignalsReport) -> None:
        super().__init__()
        from regdash.output.decisions import life
        from regdash.signals import deciding

        self._deciding = deciding
        self._unit, self._reviews = row.unit, report.screen.used.reviews
        self.heading = f"{row.unit.code}: {self._reviews.state(row.unit)}. Where does its review go, and why?"
        self._life = life(report, row.unit)
        self._windows = [one.screened.window for one in report.rows if one.unit == row.unit]

    def compose(self) -> ComposeResult:
        """Lay out the prompt, and below it what was decided so far."""
        yield from super().compose()
        table = Table.grid(padding=(0, 2))
        table.add_column(style="bold", no_wrap=True)
        table.add_column(overflow="fold")
        for about, said in self._life:
            table.add_row(Text(about), Text(said))
        with VerticalScroll(id="life"):
            yield Static(table, markup=False)

    def candidates(self, text: str) -> Sequence[Candidate]:
        """List where the review may go from here, until a reason is being typed."""
        window, rest = self._window_of(text)
        if " " in rest.strip() or rest.endswith(" "):
            return ()
        before = f"{window} " if window else ""
        states = self._deciding.next_states(self._reviews, self._unit, window)
        found = [Candidate(f"{before}{word} ", word, about) for word, about in states if word.startswith(rest)]
        return found if rest or window else [*found, *self._window_candidates()]

    def _window_candidates(self) -> list[Candidate]:
        return [Candidate(f"{one} ", one, "this window alone; else every one") for one in self._windows]

    def remark(self, text: str) -> str:
        """Say of which windows it would be."""
        window, _ = self._window_of(text)
        return f"of the window {window} alone" if window else "of every window; type the reason behind the state"

    def _window_of(self, text: str) -> tuple[str, str]:
        first, space, rest = text.lstrip().partition(" ")
        return (first, rest.lstrip()) if space and first in self._windows else ("", text.lstrip())

    def finish(self, text: str) -> Decision:
        """
        Read state and reason.

        Raises:
            ReviewError: no state that it may go to from here, no reason, or a very long one.
        """
        window, rest = self._window_of(text)
        word, _, why = rest.partition(" ")
        state = self._deciding.next_state(self._reviews, self._unit, window, word)
        if not why.strip():
            raise ReviewError(f"Why {word}? Type the reason behind it.")
        self._deciding.reason_of(state, why)
        return Decision(state, why.strip(), *self._deciding.last_read(self._reviews, self._unit, window))
