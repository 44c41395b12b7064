"""
The reading side of data cuts: which there are, and one opened read-only with questions that can be cancelled.
"""

import json
import os
import tempfile
import threading
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import asdict, dataclass, field
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

import duckdb

from regdash import fields
from regdash.errors import Cancelled, StoreError
from regdash.store.asked_sql import AskedSql
from regdash.store.remembered import Remembered
from regdash.store.sqlfiles import statement

if TYPE_CHECKING:
    import numpy as np
    import polars as pl

CUTS_FOLDER = "cuts"
# The number of a cut's layout. Raise it with every change of sql/schema/cut.sql or sql/schema/copies.sql.
LAYOUT = 8
MEMORY_LIMIT = "1GB"
ROW_GROUP = 122_880  # rows that the database stores, and skips, together
LAST_JOINT = (1 << 31) - 1
INTERRUPT_PAUSE = 0.01  # seconds
CLOSING_PATIENCE = 2.0  # seconds; an interrupted query ends within milliseconds


@dataclass(frozen=True)
class Manifest:
    """What a data cut was made from; written beside it and kept in its `cut_facts`."""

    cut: str  # "2024-12-31.1": through-date, and the count of freezes with that date
    through_date: str
    known_as_of: str
    complete_through: dict[str, Any]  # by feed: a date, or for operations a date by hospital
    joints: int
    patients: int
    revisions: int  # joints whose follow-up ended in a revision
    rows: dict[str, int]
    rule_set: str
    catalogue: str
    code_lists: str
    software: str
    content_hash: str
    settings: dict[str, Any] = field(default_factory=dict)
    layout: int = 1  # cuts of the first layout do not say it
    hash_format: int = 1  # by which definition the content was hashed; only hashes of one format can be the same
    compared: dict[str, Any] = field(default_factory=dict)  # with the cut before, as `Compared.as_kept`
    because: str = ""  # why it was made although it loses links or records of the one before

    def to_json(self) -> str:
        """Write it with sorted keys, so that equal manifests are equal text."""
        return json.dumps(asdict(self), indent=2, sort_keys=True) + "\n"

    @classmethod
    def from_json(cls, text: str) -> "Manifest":
        """Read it back."""
        return cls(**json.loads(text))


def cut_path(store: Path, name: str) -> Path:
    """Where a cut's database file stands."""
    return store / CUTS_FOLDER / f"{name}.duckdb"


def list_cuts(store: Path) -> list[Manifest]:
    """List the cuts of a store, newest through-date and number last."""
    found = []
    for path in (store / CUTS_FOLDER).glob("*.json"):
        try:
            found.append(Manifest.from_json(path.read_text(encoding="utf-8")))
        except (ValueError, TypeError) as fault:
            raise StoreError(f"The manifest {path} cannot be read: {fault}") from None
    return sorted(found, key=lambda manifest: _order(manifest.cut))


def _order(name: str) -> tuple[str, int]:
    through, _, number = name.partition(".")
    return through, int(number or 0)


def find_cut(store: Path, wanted: str | None = None) -> Manifest:
    """
    Find a cut by name, by through-date (its newest), or the newest of all.

    Raises:
        StoreError: there is none, or none of that name.
    """
    there = list_cuts(store)
    if not there:
        raise StoreError(f"There is no data cut in {store}. Make one with: regdash freeze --through DATE")
    if wanted is None:
        return there[-1]
    matching = [m for m in there if m.cut == wanted or m.through_date == wanted]
    if not matching:
        names = ", ".join(m.cut for m in there[-5:])
        raise StoreError(f"There is no data cut {wanted} in {store}. The newest are: {names}")
    return matching[-1]


class Question:
    """One question under way: its cursors can be interrupted together from another thread."""

    def __init__(self) -> None:
        self.cancelled = False
        self._cursors: set[duckdb.DuckDBPyConnection] = set()
        self._lock = threading.Lock()

    def start(self, cursor: duckdb.DuckDBPyConnection) -> None:
        with self._lock:
            if self.cancelled:
                raise Cancelled("The question was cancelled.")
            self._cursors.add(cursor)

    def done(self, cursor: duckdb.DuckDBPyConnection) -> None:
        with self._lock:
            self._cursors.discard(cursor)

    def cancel(self) -> None:
        self.cancelled = True
        if self._interrupt():
            threading.Thread(target=self._interrupt_until_done, daemon=True).start()

    def _interrupt(self) -> bool:
        with self._lock:
            for cursor in self._cursors:
                cursor.interrupt()
            return bool(self._cursors)

    def _interrupt_until_done(self) -> None:
        """Interrupt again and again: one that comes just before a query begins is forgotten by the database."""
        while self._interrupt():
            time.sleep(INTERRUPT_PAUSE)


class Cut:
    """A frozen cut, read-only. Every query runs on a cursor of its own, so any thread may ask."""

    def __init__(self, store: Path, name: str | None = None) -> None:
        self.store = store
        self.manifest = find_cut(store, name)
        check_layout(self.manifest)
        self._connection = _open(cut_path(store, self.manifest.cut))
        # The connection refuses a second thread, even for a new cursor, and to be closed while a cursor works.
        self._free = threading.Condition()
        self._closed, self._working = False, 0
        self._local = threading.local()
        self._under_way: set[Question] = set()
        self.remembered = Remembered(self._asked_sql)

    @property
    def name(self) -> str:
        return self.manifest.cut

    @contextmanager
    def asking(self, of: Question | None = None) -> Iterator[None]:
        """Mark the queries of this thread as one question that `cancel` ends, or as part of another cut's question."""
        question = of or Question()
        self._local.question = question
        self._under_way.add(question)
        try:
            yield
        finally:
            self._under_way.discard(question)
            self._local.question = None

    def cancel(self) -> None:
        """End every question under way; each raises Cancelled in its own thread."""
        for question in list(self._under_way):
            question.cancel()

    @property
    def question(self) -> Question | None:
        """What this thread is asking, so that a connection of its own can be ended with it."""
        return self._question()

    def _asked_sql(self) -> AskedSql:
        """The statements that this thread has asked since they were last taken."""
        if not hasattr(self._local, "asked_sql"):
            self._local.asked_sql = AskedSql()
        noted: AskedSql = self._local.asked_sql
        return noted

    def take_asked_sql(self) -> tuple[str, ...]:
        """List the statements that this thread has asked, values written in, and begin a new list."""
        taken = tuple(self._asked_sql().found.values())
        self._local.asked_sql = AskedSql()
        return taken

    def _question(self) -> Question | None:
        return getattr(self._local, "question", None)

    @contextmanager
    def _cursor(self, question: Question | None) -> Iterator[duckdb.DuckDBPyConnection]:
        cursor = self._new_cursor()
        try:
            if question:
                question.start(cursor)
            yield cursor
        except duckdb.InterruptException:
            raise Cancelled("The question was cancelled.") from None
        finally:
            if question:
                question.done(cursor)
            self._done_with(cursor)

    def _new_cursor(self) -> duckdb.DuckDBPyConnection:
        with self._free:
            if self._closed:
                raise Cancelled("The data cut was closed.")
            cursor = self._connection.cursor()
            self._working += 1
            return cursor

    def _done_with(self, cursor: duckdb.DuckDBPyConnection) -> None:
        with self._free:
            cursor.close()
            self._working -= 1
            self._free.notify_all()

    def columns(self, sql: str, **parameters: Any) -> "dict[str, np.ndarray]":
        """Fetch numeric columns as arrays, by name."""
        self._asked_sql().note(sql, parameters)
        with self._cursor(self._question()) as cursor:
            return cursor.execute(sql, parameters or None).fetchnumpy()

    def columns_in_parts(self, sql: str, **parameters: Any) -> "list[dict[str, np.ndarray]]":
        """
        Fetch numeric columns of all joints, some joints at a time, each part on a thread of its own.

        The database works on several threads, but hands many rows over on one.

        Args:
            sql: a query that binds `first_joint` and `end_joint`, the numbers of the joints it is asked for.
        """
        self._asked_sql().note(sql, parameters | {"first_joint": 0, "end_joint": LAST_JOINT})
        question, bounds = self._question(), joint_parts(self.manifest.joints, threads())

        def fetched(part: tuple[int, int]) -> "dict[str, np.ndarray]":
            with self._cursor(question) as cursor:
                return cursor.execute(sql, parameters | {"first_joint": part[0], "end_joint": part[1]}).fetchnumpy()

        if len(bounds) == 1:
            return [fetched(bounds[0])]
        with ThreadPoolExecutor(len(bounds)) as pool:
            return list(pool.map(fetched, bounds))

    def rows(self, sql: str, **parameters: Any) -> list[tuple[Any, ...]]:
        """Fetch rows as tuples: for the small results that screens and tables show."""
        self._asked_sql().note(sql, parameters)
        return self._rows(sql, parameters)

    def _rows(self, sql: str, parameters: dict[str, Any]) -> list[tuple[Any, ...]]:
        with self._cursor(self._question()) as cursor:
            return cursor.execute(sql, parameters or None).fetchall()

    def frame(self, sql: str, **parameters: Any) -> "pl.DataFrame":
        """Fetch a long result as a data frame."""
        import polars

        self._asked_sql().note(sql, parameters)
        with self._cursor(self._question()) as cursor:
            return polars.DataFrame(cursor.sql(sql, params=parameters or None))

    @cached_property
    def words(self) -> dict[str, tuple[str, ...]]:
        """The words of each ENUM type of this cut, in the order of their numbers."""
        return {name: tuple(words) for name, words in self._rows(statement("queries/enum_words"), {})}

    @cached_property
    def known(self) -> dict[str, tuple[str, ...]]:
        """Values of the fields that are lists in this cut, by filter key, in the order of their numbers."""
        listed = [f for f in fields.FIELDS.values() if f.enum in self.words and f.key != "reason"]
        return {f.key: self.words[f.enum] for f in listed}

    def close(self) -> None:
        """End what is under way and close the file; a query that will not end keeps it open until the process does."""
        with self._free:
            self._closed = True
        self.cancel()
        with self._free:
            if self._free.wait_for(lambda: not self._working, CLOSING_PATIENCE):
                self._connection.close()


def threads() -> int:
    """How many threads this process may work on at a time."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def joint_parts(joints: int, most: int) -> list[tuple[int, int]]:
    """
    Share the numbers of joints out, in whole groups of rows as the database stores them: first, and end, of each part.

    >>> joint_parts(300_000, 2)
    [(0, 122880), (122880, 2147483647)]
    """
    groups = max(1, joints // ROW_GROUP)
    parts = min(most, groups)
    firsts = [groups * part // parts * ROW_GROUP for part in range(parts)]
    return list(zip(firsts, [*firsts[1:], LAST_JOINT], strict=True))


def check_layout(manifest: Manifest) -> None:
    """Refuse a cut of another layout with a StoreError that says what to do."""
    if manifest.layout != LAYOUT:
        age, then = (
            ("an older", f"Make it again with: regdash freeze --through {manifest.through_date}")
            if manifest.layout < LAYOUT
            else ("a newer", "Update the program.")
        )
        raise StoreError(
            f"The data cut {manifest.cut} has layout {manifest.layout}, of {age} release; this one reads layout "
            f"{LAYOUT}. {then}"
        )


def _open(path: Path) -> duckdb.DuckDBPyConnection:
    if not path.is_file():
        raise StoreError(f"The data cut {path} is listed but its file is missing. Restore it from a backup.")
    config: dict[str, str | bool | int | float | list[str]] = {
        "enable_external_access": "false",
        "autoinstall_known_extensions": "false",
        "autoload_known_extensions": "false",
        "memory_limit": MEMORY_LIMIT,
        # The default is beside the file, in a folder that others share and that may not be writable.
        "temp_directory": str(Path(tempfile.gettempdir()) / f"regdash-{os.getpid()}"),
    }
    try:
        return duckdb.connect(str(path), read_only=True, config=config)
    except duckdb.Error as fault:
        raise StoreError(f"The data cut {path} cannot be opened: {str(fault).splitlines()[0]}") from None
