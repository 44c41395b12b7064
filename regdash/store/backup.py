"""
A copy of a whole store that can be put back: every file of one moment, each under its hash.

The store is held while it is copied, so nobody writes into it; cuts are finished before they have a manifest, and what
people note in SQLite is copied by SQLite itself. Both ways the copy is made aside and put in its place in one step.
"""

import hashlib
import json
import os
import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import asdict, dataclass
from datetime import UTC, datetime
from pathlib import Path, PurePosixPath
from typing import Any

import regdash
from regdash.errors import StoreError
from regdash.store.connect import FILE_MODE, FOLDER_MODE, REGISTRY_FILE, RELEASE, reading, told_if_unwritable
from regdash.store.cuts import CUTS_FOLDER

MANIFEST = "backup.json"
_CHUNK = 1 << 20
_FORM = 1  # of the manifest
_SQLITE = b"SQLite format 3\0"


@dataclass(frozen=True)
class Copied:
    """One file of a backup."""

    size: int  # bytes
    sha256: str


@dataclass(frozen=True)
class Backup:
    """What a backup holds, as its manifest says."""

    made: str  # UTC
    software: str
    release: int  # of the store's layout
    files: dict[str, Copied]  # by path within the store

    @property
    def size(self) -> int:
        """Bytes of all files."""
        return sum(file.size for file in self.files.values())


def back_up(store: Path, target: Path) -> Backup:
    """
    Copy a store into a new folder.

    Raises:
        StoreError: there is no store, a writer holds it, the folder is there already or inside the store, or there
            is no room for it.
    """
    _refuse_a_place_taken(target, "A backup is never written over")
    if target.resolve().is_relative_to(store.resolve()):
        raise StoreError(f"The backup {target} would stand inside the store {store}. Name a folder outside.")
    with reading(store), _made_aside(target) as aside:
        files = {}
        for path in _files_of(store):
            name = path.relative_to(store).as_posix()
            files[name] = _copy_live(path, aside / name)
        made = datetime.now(UTC).isoformat(timespec="seconds")
        backup = Backup(made, f"regdash {regdash.__version__}", RELEASE, files)
        _write_durably(aside / MANIFEST, json.dumps({"form": _FORM, **asdict(backup)}, indent=2, sort_keys=True) + "\n")
    return backup


def restore(source: Path, store: Path) -> Backup:
    """
    Put a backup back, where no store is.

    Raises:
        StoreError: there is no backup, a file of it is missing or changed, a store is there already, or there is no
            room for it.
    """
    backup = _read_manifest(source)
    _refuse_a_place_taken(store, "A backup is never put over a store")
    for name, expected in backup.files.items():
        _check(source / name, expected)
    with _made_aside(store) as aside:
        for name, expected in backup.files.items():
            if _copy(source / name, aside / name) != expected:
                raise StoreError(f"{source / name} changed while it was copied. Nothing was restored; try again.")
    return backup


def _files_of(store: Path) -> Iterator[Path]:
    """
    List what belongs to a store, in order.

    Left out: names with a dot in front, where work in progress stands, SQLite's own side files, and cuts without a
    manifest, which are not finished.
    """
    for folder, folders, names in os.walk(store):
        folders[:] = sorted(name for name in folders if not name.startswith("."))
        for name in sorted(names):
            path = Path(folder, name)
            unfinished = path.parent == store / CUTS_FOLDER and not path.with_suffix(".json").exists()
            if not (name.startswith(".") or name.endswith(("-wal", "-shm", "-journal")) or unfinished):
                yield path


def _copy_live(source: Path, target: Path) -> Copied:
    """Copy a file that others may be writing if it is one of SQLite."""
    with source.open("rb") as file:
        is_sqlite = file.read(len(_SQLITE)) == _SQLITE
    if not is_sqlite:
        return _copy(source, target)
    target.parent.mkdir(parents=True, exist_ok=True)
    with closing(sqlite3.connect(source)) as live, closing(sqlite3.connect(target)) as copy:
        live.backup(copy)
    return _hash(target)


def _copy(source: Path, target: Path) -> Copied:
    """Copy a file, hashing what is copied, onto the disk itself."""
    target.parent.mkdir(parents=True, exist_ok=True)
    digest, size = hashlib.sha256(), 0
    with source.open("rb") as old, target.open("xb") as new:
        while chunk := old.read(_CHUNK):
            digest.update(chunk)
            new.write(chunk)
            size += len(chunk)
        new.flush()
        os.fsync(new.fileno())
    target.chmod(FILE_MODE)
    return Copied(size, digest.hexdigest())


def _hash(path: Path) -> Copied:
    with path.open("rb") as file:
        digest = hashlib.file_digest(file, "sha256")
    return Copied(path.stat().st_size, digest.hexdigest())


def _check(path: Path, expected: Copied) -> None:
    try:
        found = _hash(path)
    except OSError as fault:
        raise StoreError(f"{path} of the backup cannot be read: {fault.strerror}. Nothing was restored.") from None
    if found != expected:
        raise StoreError(f"{path} is not as it was when the backup was made. Nothing was restored; use another backup.")


def _read_manifest(source: Path) -> Backup:
    path = source / MANIFEST
    try:
        said = json.loads(path.read_text(encoding="utf-8"))
        if said["form"] != _FORM:
            raise StoreError(f"The backup {source} is of another release of the program (form {said['form']}).")
        files = {name: Copied(int(file["size"]), str(file["sha256"])) for name, file in said["files"].items()}
        backup = Backup(str(said["made"]), str(said["software"]), int(said["release"]), files)
    except OSError as fault:
        raise StoreError(f"There is no backup in {source}: {path} cannot be read ({fault.strerror}).") from None
    except (ValueError, KeyError, TypeError, AttributeError):
        raise StoreError(f"{path} is not the manifest of a backup.") from None
    _refuse_strange_names(path, files)
    return backup


def _refuse_strange_names(path: Path, files: dict[str, Any]) -> None:
    strange = [name for name in files if PurePosixPath(name).is_absolute() or ".." in PurePosixPath(name).parts]
    if strange or REGISTRY_FILE not in files:
        raise StoreError(f"{path} is not the manifest of a backup: it names {(strange or ['no store'])[0]}.")


def _refuse_a_place_taken(place: Path, why: str) -> None:
    if place.is_symlink() or (place.exists() and not (place.is_dir() and not any(place.iterdir()))):
        raise StoreError(f"{place} is there already. {why}; name a new folder.")


@contextmanager
def _made_aside(target: Path) -> Iterator[Path]:
    """Make a folder beside its place, and put it there if all goes well."""
    aside = target.with_name(f".{target.name}.making-{os.getpid()}")
    with told_if_unwritable(target):
        target.parent.mkdir(parents=True, exist_ok=True)
        aside.mkdir()
        try:
            yield aside
            for folder, _, _ in os.walk(aside):
                os.chmod(folder, FOLDER_MODE)
                _sync(Path(folder))
            os.rename(aside, target)  # onto nothing, or onto an empty folder
            _sync(target.parent)
        finally:
            shutil.rmtree(aside, ignore_errors=True)


def _write_durably(path: Path, text: str) -> None:
    with path.open("x", encoding="utf-8") as file:
        file.write(text)
        file.flush()
        os.fsync(file.fileno())


def _sync(path: Path) -> None:
    descriptor = os.open(path, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)
