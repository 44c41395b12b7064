"""How often each field is missing among the records to which it applies."""

from dataclasses import dataclass

from regdash.reports import records_wording as wording
from regdash.reports.policy import Policy
from regdash.reports.recorded_fields import OF_COMPONENTS, OF_OPERATIONS, RecordedField, tallies
from regdash.reports.records import Asked, RecordsHead, checked, head, labelled, refuse_many
from regdash.store.cuts import Cut
from regdash.store.sqlfiles import statement

TABLES = (("operations", OF_OPERATIONS, "missingness"), ("components", OF_COMPONENTS, "missingness_of_components"))


@dataclass(frozen=True)
class MissingRow:
    """One field in one group."""

    group: str
    table: str  # of a submission: operations or components
    field: str
    records: int | None  # to which the field applies
    missing: int | None
    share: float | None  # missing / records
    withheld: str | None = None


@dataclass(frozen=True)
class MissingReport:
    """Missingness by group and field, in the order of the form; a field that applies to none has no row."""

    head: RecordsHead
    rows: tuple[MissingRow, ...]


def missing_report(cut: Cut, policy: Policy, asked: Asked) -> MissingReport:
    """
    Answer: which share of the records lacks each field, by hospital and year?

    Raises:
        FilterError: a word that does not choose records, or more groups than anybody can read.
    """
    predicate = checked(asked.cohort).predicate()
    found: list[tuple[tuple[str, ...], int, list[MissingRow]]] = []
    for place, (table, fields, path) in enumerate(TABLES):
        query = statement(f"queries/{path}", grouping=asked.grouping, predicate=predicate.sql, tallies=tallies(fields))
        keys = len(asked.by)
        rows = cut.rows(query, **predicate.parameters, kind=asked.kind)
        refuse_many(len(rows), asked)
        found += [(row[:keys], place, _rows(policy, labelled(row[:keys]), table, fields, row[keys:])) for row in rows]
    found.sort(key=lambda part: (asked.place(part[0]), part[1]))
    written = tuple(row for _, _, rows in found for row in rows)
    cautions = (wording.NOTHING_FILLED_IN,)
    return MissingReport(head(cut, policy, asked, "missingness", wording.MISSINGNESS, cautions), written)


def _rows(
    policy: Policy, group: str, table: str, fields: tuple[RecordedField, ...], counts: tuple[int, ...]
) -> list[MissingRow]:
    pairs = zip(fields, counts[::2], counts[1::2], strict=True)
    return [_row(policy, group, table, field.name, applies, missing) for field, applies, missing in pairs if applies]


def _row(policy: Policy, group: str, table: str, name: str, records: int, missing: int) -> MissingRow:
    why = policy.why_small(records, missing, records - missing)
    if why:
        return MissingRow(group, table, name, policy.count(records), None, None, why)
    return MissingRow(group, table, name, records, missing, missing / records)
