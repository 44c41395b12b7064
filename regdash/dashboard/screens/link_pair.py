"""A revision beside a primary that it could belong to, and the decision whether it does."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, ClassVar

from textual.binding import Binding
from textual.widget import Widget

from regdash.dashboard import wording
from regdash.dashboard.asked import Asked
from regdash.dashboard.place import Place
from regdash.dashboard.screens.link_deciding import LinkDeciding
from regdash.dashboard.widgets.grid import GAP, Column, Grid, Row
from regdash.reports.reviewed_links import ACCEPTED

if TYPE_CHECKING:
    from regdash.dashboard.questions import Questions
    from regdash.reports.reviewed_links import PairLine, PairReport, ReviewRow

SAME = {True: "same", False: "differs", None: ""}
WIDEST_SAME = len("differs")


class LinkPairScreen(LinkDeciding):
    """Two records, field by field."""

    WITHOUT = ("view", "endpoint", "group", "horizon", "order", "filter")
    EXPORTS = "link candidates"
    BINDINGS: ClassVar = [Binding("plus", "accept", "accept"), Binding("minus", "undo_link", "undo")]
    OWN_KEYS: ClassVar[dict[str, str]] = {
        "accept": "join the revision to this primary, with a reason; it counts from the next freeze on",
        "undo_link": "take the revision from this primary, with a reason; it counts from the next freeze on",
    }
    answer: PairReport | None

    def __init__(self, link: ReviewRow, trail: tuple[str, ...]) -> None:
        super().__init__((), trail)
        self.link = link

    @property
    def question(self) -> Asked:
        """Two records are the same whatever the filter says."""
        return Asked()

    def body(self) -> Iterable[Widget]:
        """Lay out the fields."""
        yield Grid(id="fields", empty="neither record is in this data cut")

    def fetch(self, desk: Questions, asked: Asked) -> PairReport:
        """Ask for both records."""
        return desk.link_pair(self.link.revision, self.link.primary)

    def says_how(self, asked: Asked) -> str:
        """Say how the link was found."""
        return f"{self.link.method} · {self.link.confidence}" if self.link.confidence else self.link.method

    def head(self) -> None:
        """Two records rest on no counts."""
        return None

    def counts_of(self) -> str:
        """Say what became of the link so far."""
        row = self.answer.row if self.answer else self.link
        return f"{row.state} by {row.decided}" if row.decided else "open: nobody has decided"

    def command(self) -> str:
        """The command that decides the same."""
        if (self.answer.row if self.answer else self.link).state == ACCEPTED:
            return f"regdash links undo {self.link.revision} --why TEXT"
        return f"regdash links accept {self.link.revision} {self.link.primary} --why TEXT"

    # Paint

    def paint(self) -> None:
        """Show the fields."""
        report = self.answer
        assert report is not None
        widest = max(len(line.field) for line in report.lines)
        room = (self.size.width - 2 - widest - WIDEST_SAME - 3 * GAP) // 2
        columns = (
            Column("field", left=True, width=widest),
            Column("revision", left=True, width=room),
            Column("primary", left=True, width=room),
            Column("", left=True),
        )
        self.query_one(Grid).show(columns, [_row(line) for line in report.lines])

    def on_resize(self) -> None:
        """Give both records their half of the room."""
        super().on_resize()
        if self.answer is not None:
            self.call_after_refresh(self.paint)

    def on_grid_moved(self, message: Grid.Moved) -> None:
        """Write whole what its column has cut."""
        line: PairLine | None = message.row.value if message.row else None
        if line is not None and not self.counting:
            room = message.grid.columns[1].width
            said = (("revision", line.revision), ("primary", line.primary))
            self.say(" · ".join(f"{whose}: {value}" for whose, value in said if value and len(value) > room))

    # Decide

    async def action_accept(self) -> None:
        """Join the two."""
        if self.link.is_held:
            self.say("A record is held, so its hospital must correct it: see regdash held.")
            return
        link = self.link
        await self.ask_why(
            "accept: on what does it rest?",
            lambda desk, why: desk.accept_link(link.revision, link.primary, why),
        )

    async def action_undo_link(self) -> None:
        """Take the two apart."""
        if (self.answer.row if self.answer else self.link).state != ACCEPTED:
            self.say("These two are not joined, so there is nothing to undo; an open link is accepted, or left open.")
            return
        link = self.link
        await self.ask_why(
            "undo: on what does it rest?",
            lambda desk, why: desk.undo_link(link.revision, why),
        )

    def action_back(self) -> None:
        """Go back; the list is made anew where something was decided."""
        below = self.app.screen_stack[-2]
        if self.has_decided and isinstance(below, Place):
            below.wanted = None
        super().action_back()

    def explain_answer(self) -> None:
        """Explain the two records and the decision."""
        from regdash.cohort import Cohort
        from regdash.dashboard.explain import explained_rows

        if self.answer is not None:
            about = f"revision {self.link.revision} beside primary {self.link.primary}; the same: {self.link.agrees}"
            self.read_explained(explained_rows(self.answer.head, about, Cohort(), (), self.command()))


def _row(line: PairLine) -> Row:
    return Row(
        (line.field, line.revision or wording.NO_FIGURE, line.primary or wording.NO_FIGURE, SAME[line.same]), line
    )
