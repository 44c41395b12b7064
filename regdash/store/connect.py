"""
Opening the store for its one writer, and for those who make cuts from it. The schema is made and checked here.
"""

import errno
import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

import duckdb

import regdash
from regdash.errors import StoreError
from regdash.store.holder import forget_holder, forget_the_dead, holder_in_words, note_holder
from regdash.store.sqlfiles import statement
from regdash.store.upgrade import UPGRADES_FROM, copy_path, keep_copy, upgrade, why_not

REGISTRY_FILE = "registry.duckdb"
MEMORY_LIMIT = "3GB"
# Where a process puts what does not fit in memory: inside the store, and apart from what others spill.
SPILL_FOLDER = ".spill-{}"
FILE_MODE, FOLDER_MODE = 0o664, 0o775  # a group of the office works on one store

UNWRITABLE = (errno.ENOSPC, errno.EDQUOT, errno.EFBIG, errno.EROFS, errno.EACCES, errno.EPERM)

# The number of the store's layout. Raise it with every change of sql/schema/store.sql.
RELEASE = 5


class StoreHeldError(StoreError):
    """A store that another process has open."""


def registry_path(store: Path) -> Path:
    """Where a store's database file stands."""
    return store / REGISTRY_FILE


def _spill_folder(store: Path) -> Path:
    return store / SPILL_FOLDER.format(os.getpid())


def _config(folder: Path) -> dict[str, Any]:
    return {
        "memory_limit": MEMORY_LIMIT,
        "temp_directory": str(_spill_folder(folder)),
        "autoinstall_known_extensions": "false",
        "autoload_known_extensions": "false",
    }


def _refusal(path: Path, fault: duckdb.Error) -> StoreError:
    text = str(fault)
    if "Could not set lock" in text:
        who = holder_in_words(path.parent, text)
        return StoreHeldError(f"The store {path.parent} is held by {who}. Wait until it has finished, then try again.")
    return StoreError(f"The store {path} cannot be opened: {text.splitlines()[0]}")


def _open(store: Path, read_only: bool) -> duckdb.DuckDBPyConnection:
    path = registry_path(store)
    try:
        return duckdb.connect(str(path), read_only=read_only, config=_config(store))
    except duckdb.Error as fault:
        raise _refusal(path, fault) from None


def _release_of(connection: duckdb.DuckDBPyConnection, store: Path) -> int | None:
    tables = {name for (name,) in connection.execute("select table_name from duckdb_tables()").fetchall()}
    if not tables:
        return None
    if "store_facts" not in tables:
        raise StoreError(f"{registry_path(store)} is a database, but not a store of this program. Name another folder.")
    found = connection.execute("select value from store_facts where fact = 'release'").fetchall()
    return int(found[0][0]) if found else 0


def check_release(connection: duckdb.DuckDBPyConnection, store: Path) -> None:
    """
    Refuse a store of another layout.

    Raises:
        StoreError: it is older, newer, empty or no store at all.
    """
    release = _release_of(connection, store)
    if release is None:
        raise StoreError(f"The store {store} is empty. Take submissions in with: regdash receive PATH")
    if release > RELEASE:
        raise StoreError(
            f"The store {store} has layout {release}, of a newer release; this one reads layout {RELEASE}. "
            "Update the program."
        )
    if release < RELEASE:
        raise StoreError(why_not(store, release, RELEASE))


def create_schema(connection: duckdb.DuckDBPyConnection) -> None:
    """Make the store's tables and note its layout."""
    connection.execute(statement("schema/store"))
    facts = [("release", str(RELEASE)), ("made_by", f"regdash {regdash.__version__}")]
    connection.executemany("insert into store_facts values (?, ?)", facts)


def fact(connection: duckdb.DuckDBPyConnection, name: str) -> str | None:
    """Fetch what a store notes of itself."""
    found = connection.execute("select value from store_facts where fact = ?", [name]).fetchall()
    return str(found[0][0]) if found else None


def note_fact(connection: duckdb.DuckDBPyConnection, name: str, value: str) -> None:
    """Let a store note something of itself that it has not noted before."""
    connection.execute("insert into store_facts values (?, ?)", [name, value])


@contextmanager
def told_if_unwritable(path: Path) -> Iterator[None]:
    """Say in one line when there is no room left, or no right to write."""
    try:
        yield
    except duckdb.Error as fault:
        if not _is_no_room(fault):
            raise
        raise StoreError(f"{path} cannot be written: {str(fault).splitlines()[0]}") from None
    except OSError as fault:
        if fault.errno not in UNWRITABLE:
            raise
        raise StoreError(f"{path} cannot be written: {fault.strerror}.") from None


def _is_no_room(fault: duckdb.Error) -> bool:
    """Tell a full disk, or one that failed, from a bug: a commit that found no room comes as another error."""
    text = str(fault)
    return isinstance(fault, duckdb.IOException | duckdb.OutOfMemoryException) or any(
        sign in text for sign in ("Could not write", "Could not sync", "Could not truncate", "No space left")
    )


@contextmanager
def opened(path: Path) -> Iterator[duckdb.DuckDBPyConnection]:
    """
    Open a database that nobody else knows of yet.

    Raises:
        StoreError: there is no room left to write.
    """
    with told_if_unwritable(path):
        connection = duckdb.connect(str(path), config=_config(path.parent))
        try:
            yield connection
        finally:
            connection.close()


@contextmanager
def writing(store: Path) -> Iterator[duckdb.DuckDBPyConnection]:
    """
    Hold the store for writing, in one transaction: all of it is kept, or nothing.

    A store that is not there is made, and removed again if nothing came of it. One of an older layout is upgraded, and
    a copy of it as it was is kept beside.

    Raises:
        StoreError: another process holds it, or it is of a layout that cannot be written.
    """
    made_folders = _make_folder(store)
    try:
        connection = _open_to_write(store)
        is_new = False
        copy: Path | None = None  # made for this transaction, and of no use where nothing comes of it
        try:
            note_holder(store)
            _remove_spilled(store)
            forget_the_dead(store)
            release = _release_of(connection, store)
            is_new = release is None
            if release is not None and UPGRADES_FROM <= release < RELEASE:
                there = copy_path(registry_path(store), release).exists()
                with told_if_unwritable(store):
                    kept = keep_copy(connection, registry_path(store), release, FILE_MODE)
                copy = None if there else kept
            connection.execute("begin")
            if is_new:
                create_schema(connection)
            elif release is not None and release < RELEASE:
                upgrade(connection, store, release, RELEASE)
            check_release(connection, store)
            with told_if_unwritable(store):
                yield connection
                connection.execute("commit")
            is_new, copy = False, None
        finally:
            if copy is not None:
                copy.unlink(missing_ok=True)
            if is_new:  # while it is still ours alone: once closed, somebody else may have begun in it
                _remove_database(store)
            forget_holder(store)  # before the lock goes: after that it could be somebody else's of our number
            connection.close()
            _share(registry_path(store), FILE_MODE)
    finally:
        shutil.rmtree(_spill_folder(store), ignore_errors=True)
        for folder in made_folders:
            with suppress(OSError):  # not empty: the store was made, or somebody else is at it
                folder.rmdir()


def _open_to_write(store: Path) -> duckdb.DuckDBPyConnection:
    is_new = not registry_path(store).exists()
    try:
        return _open(store, read_only=False)
    except StoreHeldError:
        raise
    except StoreError:
        if is_new:  # there was no room for its first block
            _remove_database(store)
        raise


def _remove_database(store: Path) -> None:
    registry_path(store).unlink(missing_ok=True)
    registry_path(store).with_name(REGISTRY_FILE + ".wal").unlink(missing_ok=True)


def _remove_spilled(store: Path) -> None:
    """Remove what killed processes spilled; the one writer is alone with the store."""
    for left in store.glob(SPILL_FOLDER.format("*")):
        shutil.rmtree(left, ignore_errors=True)


def _make_folder(store: Path) -> list[Path]:
    """Make the folder and those above it; list the ones made, innermost first."""
    if "?" in str(store):  # the database would look for its log in another folder
        raise StoreError(f"The store {store} cannot be made: its path has a question mark. Choose another name.")
    missing = [folder for folder in (store, *store.parents) if not folder.exists()]
    try:
        store.mkdir(parents=True, exist_ok=True)
    except OSError as fault:
        raise StoreError(f"The store {store} cannot be made: {fault.strerror}.") from None
    for folder in missing:
        _share(folder, FOLDER_MODE)
    return missing


def _share(path: Path, mode: int) -> None:
    # Somebody else of the group may own it; then it was given its mode by them.
    with suppress(PermissionError, FileNotFoundError):
        os.chmod(path, mode)


@contextmanager
def reading(store: Path) -> Iterator[duckdb.DuckDBPyConnection]:
    """
    Open the store to make a cut from it; nobody can write meanwhile.

    Raises:
        StoreError: there is none, a writer holds it, or it is of another layout.
    """
    if not registry_path(store).is_file():
        raise StoreError(f"There is no store in {store}. Take submissions in with: regdash receive PATH")
    connection = _open(store, read_only=True)
    try:
        note_holder(store)
        check_release(connection, store)
        with told_if_unwritable(store):
            yield connection
    finally:
        forget_holder(store)
        connection.close()
        shutil.rmtree(_spill_folder(store), ignore_errors=True)
