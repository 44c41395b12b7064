"""A picture of a terminal fetches nothing, and each word stands in its own column whatever shows it."""

import io
import re

import pictures
from rich.console import Console

LINE = "  12,345   a<b & c  ⣀⡤ end"


def picture() -> str:
    console = Console(record=True, width=40, file=io.StringIO())
    console.print(LINE, markup=False, highlight=False)
    return console.export_svg(title="a title")


def test_every_word_is_put_at_its_column():
    words = re.findall(r'<text [^>]*x="([\d.]+)"[^>]*>([^<]+)</text>', pictures.drawn(picture()))
    placed = {word: round(float(x) / pictures.CELL) for x, word in words}
    expected = {"12,345": 2, "a&lt;b": 11, "&amp;": 15, "c": 17, "⣀": 20, "⡤": 21, "end": 23}
    assert {word: placed[word] for word in expected} == expected


def test_it_fetches_no_font():
    assert "@font-face" in picture()
    assert not re.search(r"@font-face|url\((?!#)|<image|href=", pictures.drawn(picture()))
