"""Which rows are held back or rejected, by a data cut or by the store as it is now."""

from dataclasses import dataclass
from pathlib import Path
from typing import Any, Protocol

import duckdb

from regdash.errors import FilterError
from regdash.store.connect import reading
from regdash.store.cuts import Cut
from regdash.store.rules import all_rules
from regdash.store.sqlfiles import statement
from regdash.suggest import nearest

WITHHOLDING = ("hold", "reject")


@dataclass(frozen=True)
class HeldRow:
    """One row and one rule that keeps it from being counted."""

    submission: str
    hospital: str  # sender
    row: str  # file and row in it, 1 for the first under the header: operations:12
    rule: str
    severity: str  # hold or reject
    told: str  # what the hospital is told of every such row
    record: str  # number of the operation, patient, catalogue entry or unit
    value: str | None  # what the row said

    @property
    def table(self) -> str:
        """File that the row stands in, without its ending."""
        return self.row.partition(":")[0]

    @property
    def text(self) -> str:
        """What the hospital is told of this row."""
        said = f", which said {self.value}" if self.value else ""
        return f"{self.told} Record {self.record}{said}."


class _Ask(Protocol):
    def __call__(self, sql: str, **parameters: Any) -> list[tuple[Any, ...]]: ...


def held_in_cut(
    store: Path, cut: str | None = None, hospital: str | None = None, rule: str | None = None
) -> tuple[str, list[HeldRow]]:
    """
    List what a data cut holds back, and name the cut (the newest if none is asked for).

    Raises:
        StoreError: there is no such cut.
        FilterError: no such hospital has sent anything, or there is no such rule.
    """
    opened = Cut(store, cut)
    try:
        return opened.name, _held(opened.rows, hospital, rule)
    finally:
        opened.close()


def held_now(store: Path, hospital: str | None = None, rule: str | None = None) -> list[HeldRow]:
    """
    List what the store itself holds back at this moment.

    Raises:
        StoreError: there is no store, or a writer holds it.
        FilterError: no such hospital has sent anything, or there is no such rule.
    """
    with reading(store) as connection:
        return _held(_asking(connection), hospital, rule)


def _asking(connection: duckdb.DuckDBPyConnection) -> _Ask:
    return lambda sql, **parameters: connection.execute(sql, parameters or None).fetchall()


def _held(ask: _Ask, hospital: str | None, rule: str | None) -> list[HeldRow]:
    found = ask(statement("queries/held_rows"), hospital=hospital, rule=rule)
    if not found and rule is not None:
        _check(rule, sorted({r.name for r in all_rules() if r.severity in WITHHOLDING}), "rule")
    if not found and hospital is not None:
        _check(hospital, [sender for (sender,) in ask(statement("queries/held_senders"))], "sender")
    return [HeldRow(*row) for row in found]


def refuse_unknown(cut: Cut, hospital: str | None) -> None:
    """
    Refuse a hospital that has sent nothing.

    Raises:
        FilterError: it has not.
    """
    if hospital is not None:
        _check(hospital, [sender for (sender,) in cut.rows(statement("queries/held_senders"))], "sender")


def _check(word: str, choices: list[str], what: str) -> None:
    """Refuse a word that nothing goes by; one that exists may well hold nothing."""
    if word not in choices:
        raise FilterError(f"There is no {what} {word}. {nearest(word, choices)}")
