"""
What stands for a sign on a terminal that has ASCII alone: one table for charts, lists, prompts and pages.

Each sign has a character in its place, one of two columns has two, so that columns stay where they are.
"""

import codecs
import re
import unicodedata

STAND_INS = {
    # Lines, and limits at their ends.
    "─": "-",
    "━": "=",
    "│": "|",
    "┃": "|",
    "┊": ":",
    "├": "[",
    "┤": "]",
    "┼": "+",
    "└": "+",
    "┬": "+",
    "●": "*",
    "○": "o",
    "◂": "<",
    "▸": ">",
    "▲": "^",
    "▼": "v",
    # Columns in eighths, by how much of the cell they fill.
    "▁": "_",
    "▂": "_",
    "▃": ".",
    "▄": "o",
    "▅": "o",
    "▆": "O",
    "▇": "#",
    "█": "#",
    "░": ".",
    "▒": ":",
    "▓": "#",
    "▔": "-",
    "▀": "-",
    "▌": "|",
    "▎": "|",
    "▏": "|",
    "▐": "|",
    "▕": "|",
    "║": "|",
    "═": "=",
    "╸": "-",
    "╺": "-",
    "🔎": "/ ",
    # Words and figures.
    "–": "-",
    "—": "-",
    "−": "-",
    "·": ".",
    "…": "~",
    "×": "x",
    "±": "~",
    "’": "'",
    "‘": "'",
    "“": '"',
    "”": '"',
    "›": ">",
    "→": ">",
    "←": "<",
    "↑": "^",
    "↓": "v",
    "\u00a0": " ",
    "\u202f": " ",
    "\u2009": " ",
}
UNKNOWN = "?"
_BRAILLE, _BRAILLE_END = "\u2800", "\u28ff"
_BOXES, _BLOCKS, _SHAPES = "\u2500", "\u2580", "\u25a0"  # where lines, blocks and what follows them begin
# Dots of a braille cell, by line from the top: the bits of the left and of the right column.
_DOTS = ((0x01, 0x08), (0x02, 0x10), (0x04, 0x20), (0x40, 0x80))
_SIGNS = re.compile(r"[^\x00-\x7f]")
_AXIS_TICK = re.compile(r"(?<=[0-9 ])┤|\A┤")  # an axis stands beside its number, a limit at the end of a line


def in_ascii(text: str) -> str:
    """
    Write a line with ASCII signs alone, as many columns wide as before.

    A letter loses its accent; what has no stand-in becomes a question mark for each column.

    >>> in_ascii("5┤ ├──●──┤ 1.2–3.4 · Åse")
    '5+ [--*--] 1.2-3.4 . Ase'
    """
    return text if text.isascii() else _SIGNS.sub(_stand_in, _AXIS_TICK.sub("+", text))


def _stand_in(found: re.Match[str]) -> str:
    return _of(found.group())


def _of(sign: str) -> str:
    if _BRAILLE <= sign <= _BRAILLE_END:
        return _line_through(ord(sign) - ord(_BRAILLE))
    if sign in STAND_INS:
        return STAND_INS[sign]
    if _BOXES <= sign < _BLOCKS:
        return "+"
    if _BLOCKS <= sign < _SHAPES:
        return "#"
    if unicodedata.combining(sign):
        return ""
    plain = unicodedata.normalize("NFKD", sign)
    base = "".join(part for part in plain if part.isascii())
    wide = unicodedata.east_asian_width(sign) in "WF"
    return base if len(base) == 1 and not wide else UNKNOWN * (2 if wide else 1)


def _line_through(dots: int) -> str:
    """
    The character that runs as the dots of a braille cell do.

    >>> "".join(_line_through(ord(sign) - 0x2800) for sign in "⠉⠒⠤⣀⡠⢸⠀")
    "'--__| "
    """
    left, right = ([line for line, pair in enumerate(_DOTS) if dots & pair[side]] for side in (0, 1))
    lines = left + right
    if not lines:
        return " "
    if max(lines) - min(lines) >= 2:
        if not left or not right or max(left) == max(right):
            return "|"
        return "/" if max(left) > max(right) else "\\"
    middle = sum(lines) / len(lines)
    return "'" if middle < 0.75 else "-" if middle < 2.25 else "_"


def _encoded(fault: UnicodeError) -> tuple[str, int]:
    """Stand in for what an encoding cannot write."""
    if not isinstance(fault, UnicodeEncodeError):
        raise fault
    return in_ascii(fault.object[fault.start : fault.end]), fault.end


STAND_IN = "regdash-stand-in"  # the name under which `str.encode` finds it
codecs.register_error(STAND_IN, _encoded)
