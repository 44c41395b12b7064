"""What comes back from a statement in SQL, and what may be asked: the views and tables of a cut with their words."""

import time
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import groupby
from typing import Any

from regdash.store.cuts import Cut
from regdash.store.sqlfiles import statement as sql
from regdash.store.sqlroom import MOST_ROWS, MOST_SECONDS, ask

VIEW = "view"


@dataclass(frozen=True)
class StatementReport:
    """The rows of one statement, as they are: no policy withholds any of them."""

    cut: str
    statement: str
    columns: tuple[str, ...]
    rows: tuple[tuple[Any, ...], ...]
    most_rows: int  # after which reading stopped
    more: bool  # whether there were rows beyond them
    seconds: float


@dataclass(frozen=True)
class RelationColumn:
    """One column that may be asked."""

    name: str
    type: str
    about: str  # empty where nothing is said


@dataclass(frozen=True)
class Relation:
    """One view or table that may be asked."""

    name: str
    kind: str  # VIEW or "table"
    about: str
    columns: tuple[RelationColumn, ...]


class _Cancelled:
    """Tells the room that the question of this thread was cancelled."""

    def __init__(self, cut: Cut) -> None:
        self._question = cut.question

    def is_set(self) -> bool:
        """Whether it was."""
        return self._question is not None and self._question.cancelled


def statement_report(
    cut: Cut, text: str, most_rows: int = MOST_ROWS, most_seconds: float = MOST_SECONDS
) -> StatementReport:
    """
    Answer one SELECT, as `sqlroom.ask`.

    Raises:
        Cancelled: the question was cancelled.
        StatementError: it is not exactly one SELECT, the database refuses it, or its time is up.
    """
    began = time.monotonic()
    answer = ask(cut.store, cut.name, text, most_rows, most_seconds, _Cancelled(cut))
    took = time.monotonic() - began
    return StatementReport(answer.cut, text, answer.columns, tuple(answer.rows), most_rows, answer.more, took)


def relations(cut: Cut) -> tuple[Relation, ...]:
    """List what may be asked: views first, then tables, each by name."""
    found = cut.rows(sql("queries/documented_relations"))
    return tuple(_relations(found))


def _relations(found: list[tuple[Any, ...]]) -> Iterator[Relation]:
    for (name, kind, about), rows in groupby(found, key=lambda row: row[:3]):
        columns = tuple(RelationColumn(column, written_type(type_), says or "") for *_, column, type_, says, _ in rows)
        yield Relation(name, kind, about or "", columns)


def written_type(name: str) -> str:
    """
    Write a column's type in small letters; of a list, its words.

    >>> written_type("BIGINT"), written_type("ENUM('left', 'right')")
    ('bigint', 'one of left, right')
    """
    if not name.startswith("ENUM("):
        return name.lower()
    return "one of " + name.removeprefix("ENUM('").removesuffix("')").replace("', '", ", ").replace("''", "'")
