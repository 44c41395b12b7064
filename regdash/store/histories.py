"""
Replays of screens that were made before, remembered in the store beside the cuts they were made on.

They are derived: what is there can be deleted at any time and is made again when it is asked for. Backups leave the
folder out, whose name begins with a dot.
"""

import hashlib
import json
import os
import tempfile
from contextlib import suppress
from pathlib import Path
from typing import Any

from regdash.store.connect import FILE_MODE, FOLDER_MODE

FOLDER = ".histories"
MOST_KEPT = 60  # files; the oldest go


def read_history(store: Path, key: dict[str, Any]) -> dict[str, Any] | None:
    """Read what was remembered under a key; None where there is nothing, or what is there cannot be read."""
    try:
        found = json.loads(_path(store, key).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return None
    if not isinstance(found, dict) or found.get("key") != _plain(key) or not isinstance(found.get("history"), dict):
        return None
    history: dict[str, Any] = found["history"]
    return history


def write_history(store: Path, key: dict[str, Any], history: dict[str, Any]) -> bool:
    """Remember it, in one step; False where this store may not be written to."""
    path = _path(store, key)
    try:
        path.parent.mkdir(exist_ok=True)
        with suppress(PermissionError):
            path.parent.chmod(FOLDER_MODE)
        descriptor, aside = tempfile.mkstemp(dir=path.parent, prefix=".making-")
        try:
            with os.fdopen(descriptor, "w", encoding="utf-8") as file:
                json.dump({"key": key, "history": history}, file, separators=(",", ":"))
            os.chmod(aside, FILE_MODE)
            os.replace(aside, path)
        except BaseException:
            Path(aside).unlink(missing_ok=True)
            raise
        _forget_oldest(path.parent)
    except OSError:
        return False
    return True


def _path(store: Path, key: dict[str, Any]) -> Path:
    written = json.dumps(key, sort_keys=True)
    return store / FOLDER / f"{hashlib.sha256(written.encode()).hexdigest()[:24]}.json"


def _plain(key: dict[str, Any]) -> Any:
    return json.loads(json.dumps(key))


def _forget_oldest(folder: Path) -> None:
    kept = sorted(folder.glob("*.json"), key=lambda path: path.stat().st_mtime, reverse=True)
    for path in kept[MOST_KEPT:]:
        path.unlink(missing_ok=True)
