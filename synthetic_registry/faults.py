"""
The list of everything that was put wrong on purpose: one row a fault.
"""

from dataclasses import dataclass

import numpy as np

KINDS = (
    "missing",
    "no-leading-reason",
    "unknown-catalogue-no",
    "impossible-date",
    "wrong-side",
    "revision-as-primary",
    "after-death",
    "missed-link",
    "false-link",
    "sent-again",
    "second-id",
    "corrected-later",
    "not-sent",
)
TABLES = ("operations", "components", "reasons")


@dataclass(frozen=True)
class Faults:
    """One entry a fault; rows of a table are named by the operation's place among all records and a line number."""

    kind: np.ndarray  # position in KINDS
    table: np.ndarray  # position in TABLES
    record: np.ndarray
    line_no: np.ndarray  # 0 in operations
    field: np.ndarray  # column, as text; empty where it is the whole row
    revealed: np.ndarray  # bool: whether what was submitted can reveal the fault

    def __len__(self) -> int:
        return len(self.kind)

    def copied(self, copy: np.ndarray) -> "Faults":
        """List the faults of records once more for their copies; `copy` holds each record's copy, or -1."""
        at = np.flatnonzero(copy[self.record] >= 0)
        record = copy[self.record[at]]
        return Faults(self.kind[at], self.table[at], record, self.line_no[at], self.field[at], self.revealed[at])


def faults(
    kind: str,
    record: np.ndarray,
    revealed: np.ndarray | bool,
    field: str | np.ndarray = "",
    table: str = "operations",
    line_no: np.ndarray | int = 0,
) -> Faults:
    """List faults of one kind."""
    count = len(record)
    return Faults(
        kind=np.full(count, KINDS.index(kind), np.uint8),
        table=np.full(count, TABLES.index(table), np.uint8),
        record=record.astype(np.int64),
        line_no=np.broadcast_to(line_no, count).astype(np.uint8),
        field=np.broadcast_to(field, count).astype("U16"),
        revealed=np.broadcast_to(revealed, count),
    )


def all_faults(parts: list[Faults]) -> Faults:
    """Put lists of faults together, record by record."""
    none = faults("missing", np.zeros(0, np.int64), False)
    columns = {
        name: np.concatenate([getattr(part, name) for part in (*parts, none)])
        for name in ("kind", "table", "record", "line_no", "field", "revealed")
    }
    order = np.lexsort((columns["kind"], columns["line_no"], columns["table"], columns["record"]))
    return Faults(**{name: values[order] for name, values in columns.items()})
