"""Going to a row of a list by its code: `j`, or the capital letter that the code begins with."""

from __future__ import annotations

from typing import ClassVar

from textual.binding import Binding
from textual.events import Key

from regdash.dashboard.place import Place
from regdash.dashboard.screens.row_prompts import CodePrompt
from regdash.dashboard.widgets.grid import Grid, Row


class Jumping(Place):
    """A place with one list whose rows have codes."""

    BINDINGS: ClassVar = [Binding("j", "jump", "code")]
    JUMP = "go to a code; typing a capital letter does the same (U aside, which redoes)"
    OWN_KEYS: ClassVar[dict[str, str]] = {"jump": JUMP}

    def code_of(self, row: Row) -> str:
        """Name a row."""
        return str(row.cells[0])

    async def action_jump(self, text: str = "") -> None:
        """Go to a code."""
        grid = self.query_one(Grid)
        codes = [self.code_of(row) for row in grid.listed]

        def done(code: str | None) -> None:
            if code is not None:
                grid.cursor = codes.index(code)

        await self.app.push_screen(CodePrompt(codes, text), done)

    async def on_key(self, event: Key) -> None:
        """Begin a code with a capital letter."""
        typed = event.character or ""
        if typed.isascii() and typed.isupper() and typed != "U" and self.answer is not None:
            event.stop()
            await self.action_jump(typed)
