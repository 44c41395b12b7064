"""
Who holds a store: each process that has it open says so in a file of its own beside the database.

The lock is the database's and ends with its process, however that ends; a file left by a dead process locks
nobody out, is never believed of another process, and goes when the next writer comes.
"""

import getpass
import json
import os
import re
import socket
import sys
import time
from contextlib import suppress
from datetime import UTC, datetime
from pathlib import Path

NAME = ".held-by-{}.json"
_PROCESS = re.compile(r"PID (\d+)")
_PATIENCE = 0.5  # seconds; the file is written a moment after the lock is taken


def note_holder(store: Path) -> None:
    """Say in the store that this process holds it, since when and for whom."""
    said = {
        "user": _user(),
        "host": socket.gethostname(),
        "process": os.getpid(),
        "since": datetime.now(UTC).isoformat(timespec="seconds"),
        "program": Path(sys.argv[0] or "python").name,
    }
    with suppress(OSError):  # who may only read the store cannot say it, and is then known by its process alone
        _path(store, os.getpid()).write_text(json.dumps(said) + "\n", encoding="utf-8")


def forget_holder(store: Path) -> None:
    """Take back what `note_holder` said."""
    with suppress(OSError):
        _path(store, os.getpid()).unlink(missing_ok=True)


def forget_the_dead(store: Path) -> None:
    """Remove what killed processes left; only the one writer may, who is alone with the store."""
    for left in store.glob(NAME.format("*")):
        if left != _path(store, os.getpid()):
            with suppress(OSError):
                left.unlink(missing_ok=True)


def holder_in_words(store: Path, fault: str) -> str:
    """
    Tell who holds a store, from the database's refusal and from what the holder has written.

    >>> holder_in_words(Path("nowhere"), "Could not set lock on file")
    'another process'
    """
    found = _PROCESS.search(fault)
    if not found:
        return "another process"
    said = _said(store, int(found[1]))
    if said is None:
        return f"process {found[1]}"
    return (
        f"process {found[1]} ({said['program']}) of {said['user']} on {said['host']} since {_readable(said['since'])}"
    )


def _readable(since: str) -> str:
    return since.replace("T", " ").replace("+00:00", " UTC")


def _said(store: Path, process: int) -> dict[str, str] | None:
    give_up = time.monotonic() + _PATIENCE
    while True:
        try:
            said = json.loads(_path(store, process).read_text(encoding="utf-8"))
            return {name: str(said[name]) for name in ("user", "host", "since", "program")}
        except (OSError, ValueError, KeyError, TypeError):
            if time.monotonic() > give_up:
                return None
            time.sleep(_PATIENCE / 10)


def _path(store: Path, process: int) -> Path:
    return store / NAME.format(process)


def _user() -> str:
    try:
        return getpass.getuser()
    except (KeyError, OSError, ImportError):  # a user without a name, as in some containers
        return f"user {os.getuid()}"
