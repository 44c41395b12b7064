"""Choosing what is written out, and where to."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from regdash.dashboard.widgets.prompt import Candidate, Prompt
from regdash.dashboard.writing import refuse_path
from regdash.errors import FilterError
from regdash.suggest import nearest

COMMAND, TABLE, CSV, CHART = "command", "table", "csv", "chart"
ENDINGS = {TABLE: ".txt", CSV: ".csv", CHART: ".chart.txt"}
ABOUT = {
    COMMAND: "the command line that asks the same",
    TABLE: "the list with the cursor, as text",
    CSV: "its figures, as CSV",
    CHART: "the chart, as text",
}


@dataclass(frozen=True)
class Written:
    """What is written out, and to which file; None: to the clipboard."""

    what: str
    path: Path | None


class WritePrompt(Prompt[Written]):
    """Ask what is written out: a word alone copies, with a file name it is written there."""

    heading = "write out"
    keys = "a word copies, with a file it writes · Enter done · Escape leaves"

    def __init__(self, whats: Sequence[str], stem: str, command: str) -> None:
        super().__init__()
        self._whats, self._stem, self._command = tuple(whats), stem, command

    def on_mount(self) -> None:
        """Show the command, so that it can be read without copying it."""
        self.say(self.remark(""))

    def remark(self, text: str) -> str:
        """The command."""
        return f" {self._command}"

    def candidates(self, text: str) -> Sequence[Candidate]:
        """List what can be copied, then what can be written, with a name for the file."""
        copied = [Candidate(what, what, f"copy {ABOUT[what]}") for what in self._whats]
        written = [
            Candidate(f"{what} {self._stem}{ending}", f"{what} {self._stem}{ending}", f"write {ABOUT[what]}")
            for what, ending in ENDINGS.items()
            if what in self._whats
        ]
        return [each for each in (*copied, *written) if each.text.startswith(text.strip().lower())]

    def finish(self, text: str) -> Written:
        """Read what and where; nothing means the command."""
        what, _, name = text.strip().partition(" ")
        what = what.lower() or COMMAND
        if what not in self._whats:
            raise FilterError(f"{what} cannot be written out here. {nearest(what, self._whats, len(self._whats))}")
        path = Path(name.strip()).expanduser() if name.strip() else None
        if path is not None:
            refuse_path(path)
        return Written(what, path)
