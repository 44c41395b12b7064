"""Which data cuts there are, what each was made from, and reading another one."""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from rich.table import Table
from rich.text import Text
from textual.containers import VerticalScroll
from textual.widget import Widget
from textual.widgets import Static

from regdash.dashboard import wording
from regdash.dashboard.asked import Asked
from regdash.dashboard.place import Place
from regdash.dashboard.widgets.grid import Column, Grid, Row

if TYPE_CHECKING:
    from regdash.dashboard.questions import Manifest, Questions

COLUMNS = (
    Column("data cut", "cut", left=True),
    Column("known as of", "known", left=True),
    Column("joints", "joints"),
    Column("patients", "patients"),
    Column("revised", "revised"),
    Column("open", left=True),
)
MOST_LINES = 8
MOST_NAMED = 6  # dates by sender that are written out one by one


class CutsScreen(Place):
    """The cuts of the store, newest first, and the manifest of the one under the cursor."""

    ENTER = "read this cut"
    WITHOUT = ("view", "endpoint", "group", "horizon", "filter", "explain")
    DEFAULT_CSS = """
    CutsScreen Grid { height: 4; }
    CutsScreen VerticalScroll { height: 1fr; padding: 1 1 0 1; scrollbar-size-vertical: 1; }
    CutsScreen Static { height: auto; }
    """
    answer: Sequence[Manifest] | None

    @property
    def question(self) -> Asked:
        """The list is the same whatever is asked elsewhere."""
        return Asked()

    def body(self) -> Iterable[Widget]:
        """Lay out the list and the manifest."""
        yield Grid(id="cuts", empty="no data cut")
        with VerticalScroll():
            yield Static(id="manifest", markup=False)

    def fetch(self, desk: Questions, asked: Asked) -> Sequence[Manifest]:
        """Ask for the cuts."""
        return list(reversed(desk.cuts()))

    def says_how(self, asked: Asked) -> str:
        """Nothing is grouped here."""
        return ""

    def command(self) -> str:
        """The same question at the command line."""
        return "regdash cuts"

    def paint(self) -> None:
        """Show the list and a manifest."""
        assert self.answer is not None
        assert self.dashboard.desk is not None
        now = self.dashboard.desk.manifest.cut
        rows = [
            Row(
                (
                    cut.cut,
                    cut.known_as_of,
                    wording.count(cut.joints),
                    wording.count(cut.patients),
                    wording.count(cut.revisions),
                    "open now" if cut.cut == now else "",
                ),
                cut.cut,
                (cut.cut, cut.known_as_of, cut.joints, cut.patients, cut.revisions, None),
            )
            for cut in self.answer
        ]
        grid = self.query_one(Grid)
        grid.show(COLUMNS, rows)
        grid.styles.height = min(len(rows), MOST_LINES) + 1
        self.on_grid_moved()

    def on_grid_moved(self) -> None:
        """Show the manifest of the cut under the cursor."""
        row = self.query_one(Grid).current
        found = next((cut for cut in self.answer or () if row and cut.cut == row.value), None)
        if found is not None:
            self.query_one("#manifest", Static).update(_manifest(found))

    def on_grid_opened(self, message: Grid.Opened) -> None:
        """Read another cut; every place asks it from now on."""
        if message.row is not None:
            self.say("opening…")
            self.dashboard.open_cut(message.row.value)


def _manifest(cut: Manifest) -> Table:
    table = Table.grid(padding=(0, 2))
    table.add_column(style="bold", no_wrap=True)
    table.add_column(overflow="fold")
    for name, value in asdict(cut).items():  # type: ignore[call-overload]
        table.add_row(Text(name.replace("_", " ")), Text(_said(value)))
    return table


def _said(value: Any) -> str:
    if isinstance(value, dict) and len(value) > MOST_NAMED and all(isinstance(part, str) for part in value.values()):
        return f"{min(value.values())} to {max(value.values())}, {len(value)} senders"
    if isinstance(value, dict):
        parts = [f"{name} {_said(part)}" for name, part in value.items()]
        return ", ".join(parts) or "none"
    return f"{value:,}" if isinstance(value, int) else value if isinstance(value, str) else json.dumps(value)
