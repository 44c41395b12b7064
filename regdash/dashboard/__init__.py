"""
The dashboard: places, each with one question, on a terminal, driven by keys. It holds no SQL and no statistics.

Importing this package is cheap; the terminal library is imported when a dashboard opens.
"""

import os
import sys
from pathlib import Path

from regdash import cohort as filters
from regdash.dashboard.terminal import UNNAMED, look_of
from regdash.errors import RegdashError

# Nothing moves by itself, few bytes go over the line, and an Escape is a key where nothing follows it for so many
# milliseconds; read when the terminal library is imported.
QUIET = {"TEXTUAL_ANIMATIONS": "none", "TEXTUAL_SMOOTH_SCROLL": "0", "TEXTUAL_FPS": "30", "ESCDELAY": "25"}


def run(
    store: Path,
    cut: str | None = None,
    words: tuple[str, ...] = (),
    ascii_only: bool | None = None,
    theme: str | None = None,
) -> None:
    """
    Open the dashboard on a data cut and stay until it is left.

    Args:
        store: the store's folder.
        cut: name or date of a cut; the newest if left out.
        words: filter words to begin with.
        ascii_only: paint with ASCII signs alone; None: as the terminal says.
        theme: "dark" or "light"; None: as the terminal says.

    Raises:
        RegdashError: no terminal that can show it, a filter word that is not known, no such store or cut.
    """
    _need_terminal()
    asked = filters.parse(words)
    look = look_of(ascii_only=ascii_only, theme=theme)
    for name, value in QUIET.items():
        os.environ.setdefault(name, value)
    from regdash.dashboard.app import Dashboard, opener
    from regdash.dashboard.asked import Asked
    from regdash.dashboard.last_place import Keeper, state_folder

    app = Dashboard(opener(store), cut, Asked(asked), look, Keeper(store, state_folder()))
    refusal = app.run(mouse=False)  # the mouse keeps selecting text, as in any terminal
    if refusal is not None:
        raise refusal
    if app.return_code:  # a bug, whose traceback has been printed
        raise SystemExit(app.return_code)


def _need_terminal() -> None:
    instead = "The same as text: regdash browse --plain risk"
    if not (sys.stdin.isatty() and sys.stdout.isatty()):
        raise RegdashError(f"The dashboard needs a terminal. {instead}")
    kind = os.environ.get("TERM", "")
    if kind in UNNAMED:
        raise RegdashError(f"This terminal cannot show the dashboard (TERM={kind or 'not set'}). {instead}")
