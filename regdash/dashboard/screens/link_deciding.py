"""Deciding on the link of a revision to its primary, each time with a reason."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from regdash.dashboard.deciding import Deciding
from regdash.dashboard.widgets.prompt import Candidate, Prompt
from regdash.errors import LinkError

if TYPE_CHECKING:
    from regdash.dashboard.questions import Questions

KEPT = "Kept. It counts from the next freeze on."


class WhyPrompt(Prompt[str]):
    """Ask what a decision rests on."""

    keys = "Enter decides · Escape leaves"

    def __init__(self, heading: str) -> None:
        super().__init__()
        self.heading = heading

    def candidates(self, text: str) -> Sequence[Candidate]:
        """A reason is the reader's own."""
        return ()

    def finish(self, text: str) -> str:
        """Read the reason; an empty one is none."""
        if not text.strip():
            raise LinkError("A decision on a link needs its reason. Say why, in a few words.")
        return text.strip()


class LinkDeciding(Deciding):
    """A place in which links are accepted or undone."""

    async def ask_why(self, heading: str, decide: Callable[[Questions, str], None]) -> None:
        """Ask for the reason, and keep the decision with it."""

        def done(why: str | None) -> None:
            if why is not None:
                self.keep(lambda desk: _kept(desk, why, decide))

        await self.app.push_screen(WhyPrompt(heading), done)

    def say(self, sentence: str = "") -> None:
        """Write what just happened, or what became of the last decision."""
        super().say(sentence or self.became)


def _kept(desk: Questions, why: str, decide: Callable[[Questions, str], None]) -> str:
    decide(desk, why)
    return KEPT
