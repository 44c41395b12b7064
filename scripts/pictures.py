"""
Draw the README's pictures from the real program: python3 scripts/pictures.py [--joints N]

It makes a demo register, opens the dashboard on it, presses keys and keeps what the terminal shows.
The same program draws the same pictures, byte for byte.
"""

import argparse
import asyncio
import html
import os
import re
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING, Any

import environment

if TYPE_CHECKING:
    from textual.pilot import Pilot

FOLDER = environment.ROOT / "scripts" / "pictures"
SIZE = (100, 30)
CELL = 12.2  # width of a character in these pictures
TEXT = re.compile(
    r'<text (?P<looks>class="[^"]*") x="(?P<x>[\d.]+)" (?P<where>y="[\d.]+") textLength[^>]*>(?P<letters>[^<]*)</text>'
)
WORD = re.compile(r"[\u2500-\u28ff]|[^\s\u2500-\u28ff]+")  # lines and dots of a chart stand one by one
# Name of the picture, and the keys that lead to it from the one before.
PICTURES = (
    ("risk", ()),
    ("reasons", ("3",)),
    ("implants", ("5",)),
    ("implant", ("enter",)),
)


def drawn(svg: str) -> str:
    """
    Make a terminal's picture one that fetches nothing and that every viewer lays out alike: no fonts from
    elsewhere, and each word in its own place, for few viewers keep runs of blanks and the lengths of texts.
    """
    return TEXT.sub(_words, re.sub(r"\s*@font-face\s*\{.*?\}", "", svg, flags=re.DOTALL))


def _words(text: re.Match[str]) -> str:
    start, letters = float(text["x"]), html.unescape(text["letters"])
    return "".join(
        f'<text {text["looks"]} x="{start + CELL * word.start():.1f}" {text["where"]}>{html.escape(word[0])}</text>'
        for word in WORD.finditer(letters)
    )


async def settle(pilot: "Pilot[Any]") -> None:
    """Wait until every question is answered and painted."""
    await pilot.app.workers.wait_for_complete()
    await pilot.pause()
    await pilot.app.workers.wait_for_complete()
    await pilot.pause()


async def draw(store: Path) -> None:
    """Drive the dashboard through its places and write a picture of each."""
    from regdash.dashboard.app import Dashboard, opener
    from regdash.dashboard.asked import Asked

    FOLDER.mkdir(exist_ok=True)
    app = Dashboard(opener(store), None, Asked())
    async with app.run_test(size=SIZE) as pilot:
        await settle(pilot)
        for name, keys in PICTURES:
            await pilot.press(*keys)
            await settle(pilot)
            picture = FOLDER / f"{name}.svg"
            picture.write_text(drawn(app.export_screenshot(title="regdash browse")), encoding="utf-8")
            print(picture.relative_to(environment.ROOT))


def main() -> None:
    """Make the register in a folder of its own, then draw."""
    environment.prepare("test")
    if Path(sys.prefix) != environment.VENV:
        os.execv(environment.python(), [str(environment.python()), *sys.argv])
    parser = argparse.ArgumentParser(description="Draw the README's pictures from the real program.")
    parser.add_argument("--joints", type=int, default=60_000)
    options = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="regdash-pictures-") as folder:
        store = Path(folder) / "store"
        regdash = str(environment.VENV / "bin" / "regdash")
        demo = [regdash, "demo", "--joints", str(options.joints), "--no-browse", "--store", str(store)]
        subprocess.run(demo, check=True, stdout=subprocess.DEVNULL)
        asyncio.run(draw(store))


if __name__ == "__main__":
    environment.one_line(main)
