"""One joint's life: what was implanted, what came after, how it ended. Pseudonyms only."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, ClassVar

from rich.table import Table
from rich.text import Text
from textual.binding import Binding
from textual.containers import Horizontal, VerticalScroll
from textual.widget import Widget
from textual.widgets import Static

from regdash.charts.timeline import timeline
from regdash.dashboard import wording
from regdash.dashboard.asked import Asked
from regdash.dashboard.screens.link_deciding import LinkDeciding
from regdash.dashboard.widgets.line import Line
from regdash.dashboard.widgets.prompt import Candidate, Prompt
from regdash.errors import LinkError
from regdash.reports.model import JointReport

if TYPE_CHECKING:
    from regdash.dashboard.questions import Questions


class RevisionPrompt(Prompt[str]):
    """Ask which revision of a joint is meant."""

    heading = "undo which revision's link?"
    keys = "Tab takes · Enter done · Escape leaves"

    def __init__(self, revisions: Sequence[str]) -> None:
        super().__init__()
        self._revisions = revisions

    def candidates(self, text: str) -> Sequence[Candidate]:
        """List the revisions of the joint."""
        named = [(one, f"revision {n}") for n, one in enumerate(self._revisions, 1)]
        return [Candidate(one, one, remark) for one, remark in named if one.startswith(text.strip())]

    def finish(self, text: str) -> str:
        """Read the number of the revision."""
        if text.strip() not in self._revisions:
            raise LinkError(f"{text or 'Nothing'} is no revision of this joint. Choose one of the list.")
        return text.strip()


class JointScreen(LinkDeciding):
    """The events of one joint in order, beside what was known at its primary."""

    AUTO_FOCUS = "#life"
    EXPORTS = "joint"
    WITHOUT = ("view", "endpoint", "group", "horizon", "order", "filter")
    DEFAULT_CSS = """
    JointScreen #life { width: 3fr; scrollbar-size-vertical: 1; padding: 0 1; }
    JointScreen #known { width: 2fr; scrollbar-size-vertical: 1; }
    JointScreen Static { height: auto; }
    """
    BINDINGS: ClassVar = [Binding("minus", "undo_link", "undo a link")]
    OWN_KEYS: ClassVar[dict[str, str]] = {
        "undo_link": "take a revision from this joint, with a reason; it counts from the next freeze on",
    }
    answer: JointReport | None

    def __init__(self, joint_id: str, trail: tuple[str, ...]) -> None:
        super().__init__((), trail)
        self.joint_id = joint_id

    @property
    def question(self) -> Asked:
        """One joint is the same whatever the filter says."""
        return Asked()

    def body(self) -> Iterable[Widget]:
        """Lay out the events and the facts."""
        with Horizontal():
            with VerticalScroll(id="life"):
                yield Static(id="events", markup=False)
            with VerticalScroll(id="known"):
                yield Static(id="facts", markup=False)

    def fetch(self, desk: Questions, asked: Asked) -> JointReport:
        """Ask for the joint."""
        return desk.joint(self.joint_id)

    def says_how(self, asked: Asked) -> str:
        """Nothing is grouped here."""
        return ""

    def command(self) -> str:
        """The same question at the command line."""
        return f"regdash joint {self.joint_id}"

    def say_counts(self) -> None:
        """Say which joint it is."""
        super().say_counts()
        if self.answer is not None and not self.counting:
            held = self.answer.head.held_revisions
            self.query_one("#counts", Line).say(
                f" joint {self.joint_id}" + (f" · {wording.so_many(held, 'revision')} held" if held else "")
            )

    def paint(self) -> None:
        """Show the events and the facts."""
        report = self.answer
        assert report is not None
        width = self.query_one("#events").size.width
        self.query_one("#events", Static).update(timeline(report.events, width))
        table = Table.grid(padding=(0, 1))
        table.add_column(style="bold", overflow="fold", ratio=2)
        table.add_column(overflow="fold", ratio=3)
        for about, says in report.facts:
            table.add_row(Text(about), Text(says))
        self.query_one("#facts", Static).update(table)

    async def action_undo_link(self) -> None:
        """Take a revision from the joint; where it has several, ask which."""
        revisions = self.answer.revisions if self.answer else ()
        if not revisions:
            self.say("No revision is linked to this joint, so there is no link to undo.")
        elif len(revisions) == 1:
            await self._undo(revisions[0])
        else:
            await self.app.push_screen(RevisionPrompt(revisions), self._chosen)

    async def _chosen(self, revision: str | None) -> None:
        if revision is not None:
            await self._undo(revision)

    async def _undo(self, revision: str) -> None:
        await self.ask_why(f"undo {revision}: on what does it rest?", lambda desk, why: desk.undo_link(revision, why))

    def on_resize(self) -> None:
        """Wrap the events anew."""
        if self.answer is not None:
            self.call_after_refresh(self.paint)
