"""The part of the double that answers questions about submitted rows, by plain formulas."""

from typing import Any

from regdash.cohort import Cohort
from regdash.reports.submitted_rows import (
    FindingRow,
    FindingsReport,
    FoundRow,
    FoundRowsReport,
    ReceivedReport,
    ReceivedRow,
    RowsHead,
    RuleTotal,
    SenderTotal,
    UnitRow,
    UnitsReport,
)

SEVERITIES = ("reject", "hold", "known already", "warn", "note")
RULES = (
    ("operations", "date-unreadable", "reject", "The date of the operation is missing or not written as 2024-03-31."),
    ("components", "catalogue-number-unknown", "hold", "The catalogue number is not in the catalogue."),
    ("operations", "side-missing", "hold", "The side is missing. Send the operation again with it."),
    ("components", "lot-missing", "warn", "The lot is missing."),
)
SENDERS = ("H001", "H002", "H012")
FOUND = 450  # rows of every rule; more than one page


def rows_of(rule: int, sender: int) -> int:
    """Rows that a rule found in a sender's: none of the first rule in the last sender's."""
    return 0 if (rule, sender) == (0, 2) else (7 + 100 * rule) // (1 + sender)


class FakeRows:
    """Answers the questions about rows."""

    def _think(self, question: str, about: Any) -> None:
        raise NotImplementedError

    def findings(self, cohort: Cohort) -> FindingsReport:
        self._think("findings", cohort)
        senders = [(n, name) for n, name in enumerate(SENDERS) if _asked_for(cohort, name)]
        rows = tuple(
            FindingRow(name, file, rule, severity, told, rows_of(k, n))
            for n, name in senders
            for k, (file, rule, severity, told) in enumerate(RULES)
            if rows_of(k, n)
        )
        rules = tuple(
            RuleTotal(file, rule, severity, told, sum(own), len(own))
            for file, rule, severity, told in RULES
            for own in [[row.rows or 0 for row in rows if row.rule == rule]]
        )
        hospitals = tuple(
            SenderTotal(name, len(own), _by_severity(own))
            for _, name in senders
            for own in [[row for row in rows if row.hospital == name]]
        )
        return FindingsReport(_head(cohort), rows, rules, hospitals, _by_severity(rows))

    def found_rows(
        self, cohort: Cohort, rule: str | None, file: str | None, offset: int, limit: int, order: str
    ) -> FoundRowsReport:
        self._think("found_rows", (str(cohort), rule, file, offset, order))
        numbers = range(FOUND, 0, -1) if order.startswith("-") else range(1, FOUND + 1)
        severity, told = next((severity, told) for _, name, severity, told in RULES if name == rule)
        rows = tuple(
            FoundRow(f"H001-{n:04d}", file or "", n, rule or "", severity, "H001", f"H001-{n:07d}", None, told)
            for n in numbers[offset : offset + limit]
        )
        return FoundRowsReport(_head(cohort), rows, FOUND, offset)

    def units(self, cohort: Cohort) -> UnitsReport:
        self._think("units", cohort)
        asks = ("A field is empty more than usual. Is there a reason?", "Operations on one day. Is that right?")
        rows = (
            UnitRow("hospital", "H001", "field-often-empty", "warn", "2024", "bmi", 0.31, 0.08, asks[0]),
            UnitRow("hospital", "H012", "many-on-a-day", "note", "2024-03-04", None, 12.0, None, asks[1]),
            UnitRow("surgeon", "S0123", "many-on-a-day", "note", "2024-03-04", None, 9.0, None, asks[1]),
        )
        kept = tuple(row for row in rows if row.unit_kind == "surgeon" or _asked_for(cohort, row.unit))
        return UnitsReport(_head(cohort), kept)

    def received(self, cohort: Cohort) -> ReceivedReport:
        self._think("received", cohort)
        rows = tuple(
            ReceivedRow("operations", name, 40, "2025-01-17", 5000 + n, 4900, 60 + n, 20, 20)
            for n, name in enumerate(SENDERS)
            if _asked_for(cohort, name)
        )
        return ReceivedReport(_head(cohort), rows)


def _asked_for(cohort: Cohort, name: str) -> bool:
    return all((name in c.values) != c.negated for c in cohort.conditions if c.key == "hospital")


def _by_severity(rows: Any) -> dict[str, int | None]:
    return {severity: sum(row.rows for row in rows if row.severity == severity) for severity in SEVERITIES}


def _head(cohort: Cohort) -> RowsHead:
    return RowsHead(
        "rows", cohort.words, (), "2024-12-31.1", "A row counts for each rule.", ("Rows are of every joint.",)
    )
