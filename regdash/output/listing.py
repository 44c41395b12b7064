"""A list that is no report: data cuts, held rows, the answer to a statement. It has facts, columns and rows."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any


@dataclass(frozen=True)
class Listing:
    """What was listed, in rows of equal length."""

    measure: str
    columns: tuple[str, ...]
    rows: Sequence[tuple[Any, ...]]
    facts: dict[str, Any] = field(default_factory=dict)  # of the whole list
    remarks: tuple[str, ...] = ()  # for people, under the table
    wraps: tuple[str, ...] = ()  # columns whose text may be wrapped
