"""
The dashboard: places, each with one question, on a terminal, driven by keys. It holds no SQL and no statistics.

Importing this package is cheap; the terminal library is imported when a dashboard opens.
"""

import os
import sys
from pathlib import Path

from regdash import cohort as filters
from regdash.errors import RegdashError

# Nothing moves by itself and few bytes go over the line; read when the terminal library is imported.
QUIET = {"TEXTUAL_ANIMATIONS": "none", "TEXTUAL_SMOOTH_SCROLL": "0", "TEXTUAL_FPS": "30"}


def run(store: Path, cut: str | None = None, words: tuple[str, ...] = ()) -> None:
    """
    Open the dashboard on a data cut and stay until it is left.

    Args:
        store: the store's folder.
        cut: name or date of a cut; the newest if left out.
        words: filter words to begin with.

    Raises:
        RegdashError: no terminal that can show it, a filter word that is not known, no such store or cut.
    """
    _need_terminal()
    asked = filters.parse(words)
    for name, value in QUIET.items():
        os.environ.setdefault(name, value)
    from regdash.dashboard.app import Dashboard, opener
    from regdash.dashboard.asked import Asked

    app = Dashboard(opener(store), cut, Asked(asked))
    refusal = app.run(mouse=False)  # the mouse keeps selecting text, as in any terminal
    if refusal is not None:
        raise refusal
    if app.return_code:  # a bug, whose traceback has been printed
        raise SystemExit(app.return_code)


def _need_terminal() -> None:
    if not (sys.stdin.isatty() and sys.stdout.isatty()):
        raise RegdashError("The dashboard needs a terminal. For figures without one: regdash risk --by class")
    if os.environ.get("TERM", "") in ("", "dumb"):
        raise RegdashError("This terminal cannot show the dashboard (TERM=dumb). Figures: regdash risk --by class")
