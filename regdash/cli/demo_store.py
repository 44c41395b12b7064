"""
The demo's own store: a synthetic register, taken in and frozen. It is made once for each recipe, found again
after that, and no folder that holds anything else is ever touched.
"""

import fcntl
import json
import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import asdict, dataclass
from datetime import date
from pathlib import Path

from regdash.cli.audited import audited, named
from regdash.cli.printing import Steps, say
from regdash.errors import StoreError

STAMP, ASIDE = "demo.json", "demo.json.new"  # written first with `complete` false, and last with `complete` true
LOCK = "demo.lock"
MADE_BY = WHY = "regdash demo"
FILES, KEY = "demo-files", "demo-key"  # what the hospitals sent, and the truth behind it
_DATABASES = ("registry.duckdb", "registry.duckdb.wal", "office.sqlite", "office.sqlite-wal", "office.sqlite-shm")
_MADE = (*_DATABASES, "office.heads", "cuts", FILES, KEY)


@dataclass(frozen=True)
class Recipe:
    """What a demo store is made from; the same recipe gives the same store."""

    joints: int
    seed: int
    through: str
    software: str


def prepare(store: Path, recipe: Recipe) -> None:
    """
    Make the demo store, or find it made.

    Raises:
        StoreError: the folder holds something else, or another process is making it.
    """
    if _stamped(store) == (recipe, True):
        return
    _refuse_others(store)
    try:
        store.mkdir(parents=True, exist_ok=True)
    except OSError as fault:
        raise StoreError(f"The demo store {store} cannot be made: {fault.strerror}.") from None
    with _alone(store):
        if _stamped(store) != (recipe, True):
            _make(store, recipe)


def _stamped(store: Path) -> tuple[Recipe | None, bool] | None:
    """Read the stamp: the recipe, and whether the store was finished; None where no demo has put its stamp."""
    try:
        said = json.loads((store / STAMP).read_text(encoding="utf-8"))
    except (FileNotFoundError, NotADirectoryError, ValueError):
        return None
    if not isinstance(said, dict) or said.get("made_by") != MADE_BY:
        return None
    try:
        return Recipe(**said["recipe"]), said["complete"] is True
    except (KeyError, TypeError):  # another release had other recipes
        return None, False


def _refuse_others(store: Path) -> None:
    if not store.is_dir() or _stamped(store) is not None:
        return
    if any(entry.name not in (LOCK, ASIDE) for entry in store.iterdir()):
        raise StoreError(
            f"{store} is not empty and is no demo store, so the demo leaves it alone. "
            "Name a new or empty folder with --store DIR."
        )


@contextmanager
def _alone(store: Path) -> Iterator[None]:
    with (store / LOCK).open("w") as lock:
        try:
            fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            raise StoreError(f"Another process is making the demo store {store}. Wait until it has finished.") from None
        yield


def _make(store: Path, recipe: Recipe) -> None:
    from regdash.intake.receive import receive
    from regdash.store.freeze import freeze
    from synthetic_registry import make

    say(f"Making a demo of {recipe.joints:,} joints in {store}")
    _write_stamp(store, recipe, complete=False)
    _clear(store)
    files, through = store / FILES, date.fromisoformat(recipe.through)
    with Steps() as steps:
        make(files, recipe.joints, recipe.seed, key=store / KEY, through=through, progress=steps.share)
        with audited(store, "receive", why=WHY) as act:
            act.subject = named([file.submission for file in receive(store, [files], steps).files])
        with audited(store, "freeze", why=WHY) as act:
            act.subject = freeze(store, through, progress=steps).cut
    _write_stamp(store, recipe, complete=True)


def _clear(store: Path) -> None:
    """Remove what an earlier recipe or an interrupted run has left."""
    for name in _MADE:
        path = store / name
        if path.is_dir():
            shutil.rmtree(path)
        else:
            path.unlink(missing_ok=True)


def _write_stamp(store: Path, recipe: Recipe, complete: bool) -> None:
    said = {"made_by": MADE_BY, "recipe": asdict(recipe), "complete": complete}
    (store / ASIDE).write_text(json.dumps(said) + "\n", encoding="utf-8")
    os.replace(store / ASIDE, store / STAMP)
