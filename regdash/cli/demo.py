"""The command that shows the program on a synthetic register."""

import os
import shlex
import sys
from pathlib import Path

import click

from regdash import __version__
from regdash.cli.place import demo_folder
from regdash.cli.printing import emit, page_width
from regdash.dashboard.terminal import UNNAMED

THROUGH = "2024-12-31"


@click.command()
@click.option("--joints", type=click.IntRange(min=1000), default=60_000, show_default=True, help="Joints to make.")
@click.option("--seed", type=click.IntRange(min=0), default=1, show_default=True, help="The same seed, the same demo.")
@click.option("--no-browse", is_flag=True, help="Print the headline table; do not open the dashboard.")
@click.option(
    "--store",
    type=click.Path(path_type=Path, file_okay=False),
    metavar="DIR",
    help="Folder for the demo's store; else the folder demo in the platform's data folder.",
)
def demo(joints: int, seed: int, no_browse: bool, store: Path | None) -> None:
    """
    Make a synthetic register, take it in, freeze it and open the dashboard.

    Everything in it is invented. What was made before is found again. Without a terminal the headline
    table is printed instead of opening the dashboard.
    """
    from regdash.cli.demo_store import Recipe, prepare

    store = store.expanduser() if store else demo_folder()
    prepare(store, Recipe(joints, seed, THROUGH, _software()))
    if no_browse or not _can_show():
        emit(_headline(store))
        return
    from regdash import dashboard

    dashboard.run(store)


def _software() -> str:
    """What a demo store must have been made by: a store or cut of another layout could not be read."""
    from regdash.store.connect import RELEASE
    from regdash.store.cuts import LAYOUT

    return f"{__version__}, store layout {RELEASE}, cut layout {LAYOUT}"


def _can_show() -> bool:
    """Whether a dashboard can be opened here."""
    return sys.stdin.isatty() and sys.stdout.isatty() and os.environ.get("TERM", "") not in UNNAMED


def _headline(store: Path) -> str:
    """Write the risk by class, and where to go from there."""
    from regdash import grouping
    from regdash.cohort import Cohort
    from regdash.output.people import as_text
    from regdash.reports.desk import Desk

    desk = Desk(store)
    try:
        table = as_text(desk.risk(Cohort(), grouping.parse("class")), page_width())
    finally:
        desk.close()
    place, program = shlex.quote(str(store)), shlex.quote(_program())
    onward = f"Open the dashboard:   {program} browse --store {place}\nAsk for more figures: {program} risk --help"
    return f"{table}\n{onward}\n"


def _program() -> str:
    """How to call this program again: by its place where it was started by one, as the set-up script does."""
    called = Path(sys.argv[0])
    if called.name != "regdash" or not called.is_absolute():
        return "regdash"
    return os.path.relpath(called) if called.is_relative_to(Path.cwd()) else str(called)
