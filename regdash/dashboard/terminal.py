"""
What a terminal can show, and what it is to show: signs beyond ASCII or not, colours or none, dark or light.

It is told by options, and else by what the terminal says of itself.
"""

import os
from collections.abc import Mapping
from dataclasses import dataclass

DARK, LIGHT = "dark", "light"
THEMES = (DARK, LIGHT)
UNNAMED = ("", "dumb", "unknown")  # what TERM holds where nothing is known of the terminal
WITHOUT_DOTS = ("linux",)  # terminals whose fonts lack the dots that curves are drawn in
COERCED = ("C.UTF-8", "C.utf8", "UTF-8")  # what Python itself writes into LC_CTYPE where the locale is C
LIGHT_BACKGROUNDS = ("7", "15")


@dataclass(frozen=True)
class Look:
    """How screens are painted."""

    ascii_only: bool = False
    theme: str = DARK
    colours: bool = True


def look_of(environ: Mapping[str, str] = os.environ, ascii_only: bool | None = None, theme: str | None = None) -> Look:
    """
    Decide how screens are painted.

    Args:
        ascii_only: what an option says of signs; None: as the terminal says.
        theme: what an option says of the background; None: as the terminal says.

    >>> look_of({"TERM": "xterm", "LANG": "C"})
    Look(ascii_only=True, theme='dark', colours=True)
    >>> look_of({"TERM": "xterm", "LANG": "de_CH.UTF-8", "COLORFGBG": "0;15", "NO_COLOR": "1"})
    Look(ascii_only=False, theme='light', colours=False)
    """
    if ascii_only is None:
        ascii_only = environ.get("TERM", "").partition("-")[0] in WITHOUT_DOTS or not _has_utf8(environ)
    if theme is None:
        behind = environ.get("COLORFGBG", "").rpartition(";")[2]  # "foreground;background", where a terminal says it
        theme = LIGHT if behind in LIGHT_BACKGROUNDS else DARK
    return Look(ascii_only, theme, not environ.get("NO_COLOR"))


def _has_utf8(environ: Mapping[str, str]) -> bool:
    """
    Whether the locale is one of UTF-8. Where none is named nothing is known, and most terminals have it.

    LC_ALL speaks before LC_CTYPE, and that before LANG (POSIX, Environment Variables). Python writes LC_CTYPE
    where the locale is C (PEP 538), so what it writes there does not count beside LANG.
    """
    everything, signs, language = (environ.get(name, "") for name in ("LC_ALL", "LC_CTYPE", "LANG"))
    if signs in COERCED and language:
        signs = ""
    named = everything or signs or language
    return not named or named.lower().replace("-", "").endswith("utf8") or "utf8@" in named.lower().replace("-", "")
