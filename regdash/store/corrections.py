"""What hospitals and the office corrected, as a data cut has it: who, when, which field, from what to what, and why."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from regdash.store.cuts import Cut
from regdash.store.held import refuse_unknown
from regdash.store.sqlfiles import statement


@dataclass(frozen=True)
class Correction:
    """One field of one record that a later submission changed."""

    corrected_on: date
    hospital: str
    submission: str
    record_id: str  # operation record; else pseudonym, catalogue number, or what names a unit, a pair or a month
    table: str
    line_no: int | None
    field: str
    old_value: str | None
    new_value: str | None
    reason: str | None
    is_counted: bool  # the record counts in the cut


@dataclass(frozen=True)
class FieldCount:
    """How often a field was corrected."""

    table: str
    field: str
    corrections: int
    records: int
    counted: int  # records among them that count in the cut


def corrections_in(
    store: Path, cut: str | None = None, hospital: str | None = None, since: date | None = None
) -> tuple[str, list[Correction]]:
    """
    List what was corrected, oldest first, and name the cut.

    Raises:
        StoreError: there is no such cut.
        FilterError: no such hospital has sent anything.
    """
    opened = Cut(store, cut)
    try:
        refuse_unknown(opened, hospital)
        return opened.name, corrections_of(opened, hospital, since)
    finally:
        opened.close()


def corrections_of(opened: Cut, hospital: str | None = None, since: date | None = None) -> list[Correction]:
    """List what a cut that is open has, oldest first."""
    return [Correction(*row) for row in opened.rows(statement("queries/corrections"), hospital=hospital, since=since)]


def by_field(found: Sequence[Correction]) -> list[FieldCount]:
    """Count corrections by field, the most frequent first."""
    fields: dict[tuple[str, str], list[Correction]] = {}
    for one in found:
        fields.setdefault((one.table, one.field), []).append(one)
    counts = [
        FieldCount(
            table,
            field,
            len(of_field),
            len({one.record_id for one in of_field}),
            len({one.record_id for one in of_field if one.is_counted}),
        )
        for (table, field), of_field in fields.items()
    ]
    return sorted(counts, key=lambda one: (-one.corrections, one.table, one.field))
