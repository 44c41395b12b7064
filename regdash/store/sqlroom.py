"""
The room where anybody may ask a data cut in SQL: one reading statement, on a connection that cannot see
anything else, with an end to its rows and to its time.
"""

import json
import tempfile
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Protocol

import duckdb

from regdash.errors import Cancelled, RegdashError, StatementError, StoreError
from regdash.store.cuts import cut_path, find_cut
from regdash.store.sqlfiles import statement as sql
from regdash.store.words import quoted

MOST_ROWS = 1000
MOST_SECONDS = 30.0
MEMORY_LIMIT = "1GB"
SPILL_LIMIT = "4GB"  # on disk, while a statement is worked on
# Table functions that do nothing but make rows, or tell what the cut holds. Others read memory, files or settings, or
# write a log; the lock holds most of them, and this list holds what later releases of the database may add.
TABLE_FUNCTIONS = frozenset(
    ("unnest", "range", "generate_series", "repeat", "repeat_row", "summary", "json_each", "json_tree")
    + tuple(f"duckdb_{kind}" for kind in ("tables", "views", "columns", "types", "functions", "keywords", "schemas"))
    + tuple(f"duckdb_{kind}" for kind in ("constraints", "indexes", "settings", "memory", "temporary_files"))
    + ("pragma_table_info", "pragma_show", "pragma_version", "test_all_types")
)
SCALARS_THAT_ACT = frozenset(("write_log", "nextval", "setval"))
_LONGEST_FAULT = 300  # characters of what the database says
_POLL_SECONDS = 0.05


@dataclass(frozen=True)
class SqlAnswer:
    """What a statement returned. `more` tells that there were rows beyond the last one asked for."""

    cut: str
    columns: tuple[str, ...]
    rows: list[tuple[Any, ...]]
    more: bool


class Stop(Protocol):
    """Tells whether somebody wants a statement ended."""

    def is_set(self) -> bool: ...


def ask(
    store: Path,
    cut: str | None,
    statement: str,
    most_rows: int = MOST_ROWS,
    most_seconds: float = MOST_SECONDS,
    stop: Stop | None = None,
) -> SqlAnswer:
    """
    Ask a data cut.

    Args:
        cut: name or date of the cut; the newest if None.
        most_rows: rows after which reading stops.
        most_seconds: time after which the statement is ended.
        stop: ends the statement when set, from another thread.

    Raises:
        Cancelled: it was stopped.
        StatementError: it is not exactly one SELECT, the database refuses it, or its time is up.
        StoreError: there is no such cut, or it cannot be opened.
    """
    name = find_cut(store, cut).cut
    with _room(cut_path(store, name)) as connection:
        prepared = _one_select(connection, statement)
        with _Clock(connection, most_seconds, stop or threading.Event()) as clock:
            try:
                result = connection.execute(prepared)
                columns = tuple(column[0] for column in result.description)
                rows = result.fetchmany(most_rows + 1)
            except duckdb.Error as fault:
                raise clock.refusal() or StatementError(_said(fault)) from None
    return SqlAnswer(name, _apart(columns), rows[:most_rows], len(rows) > most_rows)


@contextmanager
def _room(path: Path) -> Iterator[duckdb.DuckDBPyConnection]:
    """
    Open a cut so that a statement can read it and nothing else, and cannot change how.

    The cut is attached to a database of its own, since one that this process has open already, as a dashboard has,
    cannot be opened again with other settings.
    """
    if not path.is_file():
        raise StoreError(f"The data cut {path} is listed but its file is missing. Restore it from a backup.")
    with tempfile.TemporaryDirectory(prefix="regdash-") as spill:
        config: dict[str, Any] = {
            "autoinstall_known_extensions": "false",
            "autoload_known_extensions": "false",
            "python_enable_replacements": "false",
            "memory_limit": MEMORY_LIMIT,
            "temp_directory": spill,
            "max_temp_directory_size": SPILL_LIMIT,
        }
        connection = duckdb.connect(config=config)
        try:
            connection.execute(f"attach {quoted(str(path))} as data_cut (read_only)")
            connection.execute("use data_cut; set enable_external_access = false")
            connection.execute("set enable_progress_bar = false; set lock_configuration = true")
        except duckdb.Error as fault:
            connection.close()
            raise StoreError(f"The data cut {path} cannot be opened: {str(fault).splitlines()[0]}") from None
        try:
            yield connection
        finally:
            connection.close()


def _one_select(connection: duckdb.DuckDBPyConnection, statement: str) -> duckdb.Statement:
    """Accept what reads: one SELECT, WITH, FROM, DESCRIBE or SUMMARIZE."""
    try:
        statements = connection.extract_statements(statement)
    except duckdb.Error as fault:
        raise StatementError(_said(fault)) from None
    if len(statements) != 1:
        raise StatementError(f"One SELECT statement can be asked at a time; this text holds {len(statements)}.")
    if statements[0].type != duckdb.StatementType.SELECT:
        kind = statements[0].type.name.replace("_", " ")
        raise StatementError(f"Only SELECT statements can be asked, since data cuts are never changed; this is {kind}.")
    if statements[0].named_parameters:
        raise StatementError("The statement has parameters, and nobody gives their values. Write the values.")
    _refuse_acting(connection, statement)
    return statements[0]


def _refuse_acting(connection: duckdb.DuckDBPyConnection, statement: str) -> None:
    """Refuse functions that do more than work on rows of the cut."""
    ((parsed,),) = connection.execute(sql("queries/parsed_statement"), {"statement": statement}).fetchall()
    tree = json.loads(parsed)
    if tree["error"]:  # what cannot be looked through is not asked
        raise StatementError(f"The statement cannot be taken apart, so it is not asked. {tree['error_message']}")
    for node in _nodes(tree):
        function = node.get("function") if node.get("type") == "TABLE_FUNCTION" else node
        name = str((function or {}).get("function_name", "")).lower()
        if name in SCALARS_THAT_ACT or (function is not node and name not in TABLE_FUNCTIONS):
            raise StatementError(f"{name} cannot be asked here: statements read the tables and views of the cut alone.")


def _nodes(parsed: Any) -> Iterator[dict[str, Any]]:
    """Walk a parsed statement, every part of it."""
    left = [parsed]
    while left:
        part = left.pop()
        if isinstance(part, dict):
            yield part
            left += part.values()
        elif isinstance(part, list):
            left += part


class _Clock:
    """Ends a connection's statement when its time is up or when it is stopped, however often that takes."""

    def __init__(self, connection: duckdb.DuckDBPyConnection, seconds: float, stop: Stop) -> None:
        self._connection, self._seconds, self._stop = connection, seconds, stop
        self._done, self._rang = threading.Event(), False
        self._thread = threading.Thread(target=self._run, daemon=True)

    def _run(self) -> None:
        last = time.monotonic() + self._seconds
        while not self._done.wait(_POLL_SECONDS):
            self._rang = self._rang or time.monotonic() > last
            if self._rang or self._stop.is_set():
                self._connection.interrupt()

    def __enter__(self) -> "_Clock":
        self._thread.start()
        return self

    def __exit__(self, *fault: object) -> None:
        self._done.set()
        self._thread.join()

    def refusal(self) -> RegdashError | None:
        """Say what ended the statement, if it was not the database itself."""
        if self._stop.is_set():
            return Cancelled("The statement was cancelled.")
        if self._rang:
            return StatementError(
                f"The statement was ended after {self._seconds:g} seconds. Ask for less, or allow more."
            )
        return None


def _said(fault: duckdb.Error) -> str:
    """Take from a database's message what it says, without the drawing of where."""
    if isinstance(fault, duckdb.OutOfMemoryException):
        return f"The statement needs more than the {MEMORY_LIMIT} of memory that it may have. Ask for less."
    told = str(fault).split("\nLINE ")[0]
    line = " ".join(told.split())
    return line if len(line) <= _LONGEST_FAULT else line[:_LONGEST_FAULT] + "…"


def _apart(columns: tuple[str, ...]) -> tuple[str, ...]:
    """
    Tell columns of one name apart, so that each keeps its values where a row is written by name.

    >>> _apart(("n", "n", "n_2"))
    ('n', 'n_3', 'n_2')
    """
    taken, apart = set(columns), []
    for place, name in enumerate(columns):
        if name not in columns[:place]:
            apart.append(name)
            continue
        number = 2
        while f"{name}_{number}" in taken:
            number += 1
        taken.add(f"{name}_{number}")
        apart.append(f"{name}_{number}")
    return tuple(apart)
