"""One joint's life: what was implanted, what came after, how it ended. Pseudonyms only."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from rich.table import Table
from rich.text import Text
from textual.containers import Horizontal, VerticalScroll
from textual.widget import Widget
from textual.widgets import Static

from regdash.charts.timeline import timeline
from regdash.dashboard.asked import Asked
from regdash.dashboard.place import Place
from regdash.dashboard.widgets.line import Line
from regdash.reports.model import JointReport

if TYPE_CHECKING:
    from regdash.dashboard.questions import Questions


class JointScreen(Place):
    """The events of one joint in order, beside what was known at its primary."""

    AUTO_FOCUS = "#life"
    EXPORTS = "joint"
    WITHOUT = ("view", "endpoint", "group", "horizon", "order", "filter")
    DEFAULT_CSS = """
    JointScreen #life { width: 3fr; scrollbar-size-vertical: 1; padding: 0 1; }
    JointScreen #known { width: 2fr; scrollbar-size-vertical: 1; }
    JointScreen Static { height: auto; }
    """
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
                f" joint {self.joint_id}" + (f" · {held} revisions held" if held else "")
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

    def on_resize(self) -> None:
        """Wrap the events anew."""
        if self.answer is not None:
            self.call_after_refresh(self.paint)
