"""Where the store is when nobody says so."""

import os
import sys
from pathlib import Path

from regdash.cli.printing import say
from regdash.errors import StoreError

DEMO = "demo"
_TOLD: set[Path] = set()  # stores whose office file was told to be gone


def data_folder() -> Path:
    """The platform's folder for a person's data, of this program."""
    if sys.platform == "darwin":
        return Path.home() / "Library" / "Application Support" / "regdash"
    named = Path(os.environ.get("XDG_DATA_HOME", ""))
    # A relative path there is to be ignored (XDG Base Directory Specification).
    return (named if named.is_absolute() else Path.home() / ".local" / "share") / "regdash"


def demo_folder() -> Path:
    """Where the demo's store is when nobody says so."""
    return data_folder() / DEMO


def to_read(store: Path | None) -> Path:
    """
    Find the store to read cuts from.

    Raises:
        StoreError: none was named and there is no cut in the usual place; the demo is pointed out if it is there.
    """
    if store is not None:
        return store.expanduser()
    usual = data_folder()
    if not (usual / "cuts").is_dir():
        demo = f"--store {demo_folder()}" if (demo_folder() / "cuts").is_dir() else "regdash demo"
        raise StoreError(
            f"There is no data cut in {usual}. Make one with regdash freeze, name another store with --store DIR, "
            f"or see the demo: {demo}"
        )
    return usual


def existing(store: Path | None) -> Path:
    """
    Find the store to read what needs no cut from.

    Raises:
        StoreError: its folder is not there, or as `to_read`.
    """
    place = to_read(store)
    if not place.is_dir():
        raise StoreError(f"There is no store in {place}. Name another with --store DIR.")
    tell_lost_office(place)
    return place


def tell_lost_office(store: Path) -> None:
    """Say once, before anything else, that the office file is gone."""
    from regdash.store.audit import lost_office

    if store not in _TOLD and (lost := lost_office(store)):
        _TOLD.add(store)
        say(lost)


def to_write(store: Path | None) -> Path:
    """Find the store to take submissions into, or to make cuts of."""
    return store.expanduser() if store is not None else data_folder()
