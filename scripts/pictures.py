"""
Draw the README's pictures from the real program: python3 scripts/pictures.py [--joints N]

It makes a demo register, opens the dashboard on it, presses keys and keeps what the terminal shows.
The same program draws the same pictures, byte for byte.
"""

import argparse
import asyncio
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
# Name of the picture, and the keys that lead to it from the one before.
PICTURES = (
    ("risk", ()),
    ("reasons", ("3",)),
    ("implants", ("4",)),
    ("implant", ("enter",)),
)


def drawn(svg: str) -> str:
    """Leave the letters to the reader's own fonts: a picture in a README should fetch nothing."""
    return re.sub(r"\s*@font-face\s*\{.*?\}", "", svg, flags=re.DOTALL)


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
    parser.add_argument("--joints", type=int, default=20_000)
    options = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="regdash-pictures-") as folder:
        store = Path(folder) / "store"
        regdash = str(environment.VENV / "bin" / "regdash")
        demo = [regdash, "demo", "--joints", str(options.joints), "--no-browse", "--store", str(store)]
        subprocess.run(demo, check=True, stdout=subprocess.DEVNULL)
        asyncio.run(draw(store))


if __name__ == "__main__":
    environment.one_line(main)
