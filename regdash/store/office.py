"""
The office file: what people write while they look. Short transactions, any number of processes, on a local disk.

It is made by the first who writes. Its tables are the files of `sql/office/tables`; those that a file of an older
release lacks are added when somebody writes, and a copy of the file as it was is kept beside.
"""

import functools
import graphlib
import os
import sqlite3
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import regdash
from regdash.errors import StoreError
from regdash.store.connect import FILE_MODE
from regdash.store.sqlfiles import SqlFile, sql_file, sql_folder, statement

OFFICE_FILE = "office.sqlite"
PATIENCE = 20.0  # seconds that a writer waits for the others
PAUSE = 0.02

# Faults of the machine, of rights or of the file, by SQLite's names; any other is a bug.
_TOLD = {
    "SQLITE_BUSY": "others have been writing for too long. Try again.",
    "SQLITE_CANTOPEN": "it cannot be opened.",
    "SQLITE_CORRUPT": "it is damaged. Restore it from a backup.",
    "SQLITE_FULL": "the disk is full.",
    "SQLITE_IOERR": "the disk does not answer.",
    "SQLITE_NOTADB": "it is no office file. Restore it from a backup.",
    "SQLITE_PERM": "it may not be written.",
    "SQLITE_READONLY": "it may not be written.",
}


def office_path(store: Path) -> Path:
    """Where a store's office file stands."""
    return store / OFFICE_FILE


def now() -> str:
    """The time in UTC, ISO 8601, to the second."""
    return datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


@contextmanager
def writing_office(store: Path) -> Iterator[sqlite3.Connection]:
    """
    Hold the office file for one short transaction: all of it is kept, or nothing.

    Raises:
        StoreError: it cannot be written, is damaged, or is of a newer release.
    """
    path = office_path(store)
    with _told(path):
        _create(path)
        with closing(sqlite3.connect(path, timeout=PATIENCE, isolation_level=None)) as office:
            _write_ahead(office)
            office.execute("begin immediate")
            try:
                _make_parts(office, path)
                yield office
                office.execute("commit")
            finally:
                if office.in_transaction:
                    office.execute("rollback")


@contextmanager
def reading_office(store: Path) -> Iterator[sqlite3.Connection | None]:
    """
    Open the office file to read; None where nobody has written yet. No right to write is needed.

    Raises:
        StoreError: it cannot be opened, is damaged, or is of a newer release.
    """
    path = office_path(store)
    with _told(path):
        if not path.exists():
            yield None
            return
        with closing(_open_to_read(path)) as office:
            made = _made_parts(office)
            _refuse_newer(made, path)
            yield office if made else None  # else somebody is just making it


def office_rows(store: Path, table: str, query: str, values: dict[str, Any]) -> list[tuple[Any, ...]]:
    """
    Fetch what `sql/<query>.sql` finds; nothing where the office file is not there, or is of before its table.

    Raises:
        StoreError: it cannot be read.
    """
    with reading_office(store) as office:
        if office is None or not office.execute(statement("office/has_table"), {"name": table}).fetchone():
            return []
        return office.execute(statement(query), values).fetchall()


def _create(path: Path) -> None:
    """Make the file with the mode of a shared group; SQLite gives the files it puts beside the same."""
    with suppress(FileExistsError):
        os.close(os.open(path, os.O_CREAT | os.O_EXCL | os.O_RDWR, FILE_MODE))
        path.chmod(FILE_MODE)


def _write_ahead(office: sqlite3.Connection) -> None:
    """Let readers read while one writes. Changing to it takes the file for a moment, and does not wait by itself."""
    deadline = time.monotonic() + PATIENCE
    while True:
        try:
            office.execute("pragma journal_mode = wal")
            return
        except sqlite3.OperationalError as fault:
            if _name(fault) != "SQLITE_BUSY" or time.monotonic() > deadline:
                raise
        time.sleep(PAUSE)


def _open_to_read(path: Path) -> sqlite3.Connection:
    """
    Open read-only. Who may write the folder opens it so that what SQLite puts beside is tidied away; who may not
    reads the file alone where nothing lies beside it.
    """
    may_write = os.access(path, os.W_OK) and os.access(path.parent, os.W_OK)
    address = path.resolve().as_uri()
    office = sqlite3.connect(f"{address}?mode={'rw' if may_write else 'ro'}", uri=True, timeout=PATIENCE)
    try:
        office.execute("pragma query_only = on")
        office.execute("select count(*) from sqlite_master")
    except sqlite3.OperationalError:
        office.close()
        log = path.with_name(path.name + "-wal")
        if may_write or (log.exists() and log.stat().st_size):
            raise
        office = sqlite3.connect(f"{address}?immutable=1", uri=True)
    return office


@functools.cache
def parts_in_order() -> tuple[SqlFile, ...]:
    """List the files of `sql/office/tables` so that each comes after those whose tables it reads."""
    names = sorted(path.stem for path in (sql_folder() / "office" / "tables").glob("*.sql"))
    files = {name: sql_file(f"office/tables/{name}") for name in names}
    makers = {table: name for name, file in files.items() for table in file.listed("creates")}
    graph = {name: {makers[table] for table in file.listed("reads")} for name, file in files.items()}
    return tuple(files[name] for name in graphlib.TopologicalSorter(graph).static_order())


def _make_parts(office: sqlite3.Connection, path: Path) -> None:
    made = _made_parts(office)
    _refuse_newer(made, path)
    missing = [part for part in parts_in_order() if part.name not in made]
    if made and missing:
        _keep_copy(path, len(made))
    for part in missing:
        for one in statements(part.query):
            office.execute(one)
        noted = {"part": part.name, "made_by": f"regdash {regdash.__version__}", "made_at": now()}
        office.execute(statement("office/note_part"), noted)


def _made_parts(office: sqlite3.Connection) -> set[str]:
    tables = {name for (name,) in office.execute("select name from sqlite_master")}
    if "office_parts" not in tables:
        return set()
    return {part for (part,) in office.execute(statement("office/made_parts"))}


def _refuse_newer(made: set[str], path: Path) -> None:
    if unknown := sorted(made - {part.name for part in parts_in_order()}):
        raise StoreError(f"{path} was written by a newer release: it has {', '.join(unknown)}. Update the program.")


def _keep_copy(path: Path, parts: int) -> None:
    """Copy the file as it was, by a connection of its own: nothing is written before."""
    copy = path.with_name(f"{path.name}.of-{parts}-parts")
    with closing(sqlite3.connect(path)) as before, closing(sqlite3.connect(copy)) as kept:
        before.backup(kept)
    with suppress(PermissionError):
        copy.chmod(FILE_MODE)


def statements(text: str) -> list[str]:
    """
    Split a file into statements; a trigger is one, whatever stands in it.

    >>> statements("create table a (b); select 1")
    ['create table a (b);', 'select 1;']
    """
    found, piece = [], ""
    for part in text.rstrip().rstrip(";").split(";"):
        piece += part + ";"
        if sqlite3.complete_statement(piece):
            found.append(piece.strip())
            piece = ""
    if piece:
        raise ValueError(f"a statement does not end: {piece!r}")
    return found


@contextmanager
def _told(path: Path) -> Iterator[None]:
    """Say in one line what is wrong with the file, the disk or the rights."""
    try:
        yield
    except sqlite3.DatabaseError as fault:
        told = _TOLD.get(_name(fault))
        if told is None:
            raise
        raise StoreError(f"The office file {path} could not be used: {told}") from None
    except OSError as fault:
        if fault.filename != str(path):
            raise
        raise StoreError(f"The office file {path} cannot be written: {fault.strerror}.") from None


def _name(fault: sqlite3.Error) -> str:
    """Name the kind of a fault: SQLITE_READONLY_DIRECTORY is SQLITE_READONLY."""
    return "_".join(getattr(fault, "sqlite_errorname", "").split("_")[:2])
