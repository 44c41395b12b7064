"""
Keep the README's tour true: run its commands on a demo register and write what they print.

    python3 scripts/tour.py [--check]

A block that begins with `$ ` is a command and its output. With --check nothing is written, and a block
that no longer says what the program says is named.
"""

import argparse
import os
import re
import subprocess
import sys
import tempfile
from pathlib import Path

import environment

README = environment.ROOT / "README.md"
BLOCK = re.compile(r"^    \$ (?P<command>.+)\n(?:    .*\n|\n(?=    ))*", re.MULTILINE)
TOUR_CUT = "2024-12-31.1"


def demo_store(folder: Path) -> Path:
    """Make the demo register that the tour is about."""
    store = folder / "store"
    command = ["regdash", "demo", "--no-browse", "--store", str(store)]
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL, env=environment.environ())
    return store


def printed(command: str, store: Path) -> str:
    """Run one command as a reader would, in a terminal of no special width."""
    environ = environment.environ() | {"REGDASH_STORE": str(store), "COLUMNS": "80"}
    done = subprocess.run(command, shell=True, check=True, capture_output=True, text=True, env=environ)
    if not done.stdout:
        sys.exit(f"{command} printed nothing: {done.stderr.strip()}")
    return done.stdout


def told_anew(text: str, store: Path) -> str:
    """The text with every command's output as the program gives it now."""

    def block(match: re.Match[str]) -> str:
        lines = [f"$ {match['command']}", *printed(match["command"], store).rstrip().splitlines()]
        return "".join(f"    {line}".rstrip() + "\n" for line in lines)

    return BLOCK.sub(block, text)


def main() -> None:
    """Write the tour anew, or say what of it is no longer so."""
    environment.prepare("run")
    if Path(sys.prefix) != environment.VENV:
        os.execv(environment.python(), [str(environment.python()), *sys.argv])
    parser = argparse.ArgumentParser(description="Write the README's tour anew from the real program.")
    parser.add_argument("--check", action="store_true", help="write nothing; fail where the tour has gone stale")
    asked = parser.parse_args()
    before = README.read_text(encoding="utf-8")
    with tempfile.TemporaryDirectory(prefix="regdash-tour-") as folder:
        after = told_anew(before, demo_store(Path(folder)))
    if not asked.check:
        README.write_text(after, encoding="utf-8")
    elif after != before:
        sys.exit("The README's tour has gone stale. Run: python3 scripts/tour.py")


if __name__ == "__main__":
    environment.one_line(main)
