"""Places in which people decide: a decision is kept off the event loop, and what became of it is said."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from textual import work
from textual.message import Message

from regdash.dashboard.place import Place
from regdash.errors import RegdashError

if TYPE_CHECKING:
    from regdash.cohort import Cohort
    from regdash.dashboard.questions import Questions
    from regdash.dashboard.screens.decide_prompt import Decision
    from regdash.signals.model import SignalRow, SignalsReport, Unit


class Deciding(Place):
    """A place with decisions. Subclasses hand in what keeps one, and say what became of it (`became`)."""

    class Decided(Message):
        """A decision was kept, or refused."""

        def __init__(self, said: str, is_kept: bool) -> None:
            super().__init__()
            self.said, self.is_kept = said, is_kept

    def __init__(self, within: tuple[str, ...] = (), trail: tuple[str, ...] = ()) -> None:
        super().__init__(within, trail)
        self.became = ""  # what became of the last decision
        self.has_decided = False

    def keep(self, decide: Callable[[Questions], str]) -> None:
        """Keep a decision: `decide` asks the desk to, and says what became of it."""
        if self.dashboard.desk is not None:
            self._keep(self.dashboard.desk, decide)

    @work(thread=True, group="decide")
    def _keep(self, desk: Questions, decide: Callable[[Questions], str]) -> None:
        try:
            self.post_message(self.Decided(decide(desk), is_kept=True))
        except RegdashError as refusal:
            self.post_message(self.Decided(str(refusal), is_kept=False))

    def on_deciding_decided(self, message: Decided) -> None:
        """Say what became of the decision, and ask again what stands: somebody else may have decided."""
        self.has_decided = self.has_decided or message.is_kept
        self.became = message.said
        self.say()
        self.ask()


class DecidingOnSignals(Deciding):
    """A place in which the review of a signal is moved on."""

    async def decide_on(self, row: SignalRow, report: SignalsReport, cohort: Cohort) -> None:
        """Ask where the review of a unit goes, and why, and keep what is typed."""
        from regdash.dashboard.screens.decide_prompt import DecidePrompt

        def done(decision: Decision | None) -> None:
            if decision is not None:
                self.keep(lambda desk: _kept(desk, row.unit, cohort, decision))

        await self.app.push_screen(DecidePrompt(row, report), done)


def _kept(desk: Questions, unit: Unit, cohort: Cohort, decision: Decision) -> str:
    review = desk.decide(unit, cohort, decision.state, decision.why, decision.window, decision.after)
    return f"Kept: {unit.code} is {review.state} (decision {review.number})."
