"""What a refused word may have meant: the nearest right words, said in one sentence."""

import difflib
from collections.abc import Iterable


def nearest(text: str, choices: Iterable[str], most: int = 6) -> str:
    """
    Name the nearest right words, or some of them where none is near.

    >>> nearest("parshal", ["total", "partial"])
    'Nearest: partial.'
    """
    known = list(choices)
    close = difflib.get_close_matches(text.lower(), [choice.lower() for choice in known], n=3, cutoff=0.5)
    named = [choice for choice in known if choice.lower() in close]
    if named:
        return f"Nearest: {', '.join(named)}."
    if not known:
        return "There is none at all."
    return f"It may be: {', '.join(known[:most])}{', …' if len(known) > most else ''}."
