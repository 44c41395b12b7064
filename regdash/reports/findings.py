"""What rules found in submitted rows: how many by sender, file and rule, and the rows themselves a page at a time."""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import replace
from itertools import groupby
from typing import Any

from regdash.cohort import Cohort
from regdash.errors import FilterError
from regdash.reports.policy import Policy
from regdash.reports.rows_desk import FIRST_ORDER, PAGE
from regdash.reports.submitted_rows import (
    FindingRow,
    FindingsReport,
    FoundRow,
    FoundRowsReport,
    RowsHead,
    RuleTotal,
    Senders,
    SenderTotal,
    UnitRow,
    UnitsReport,
    senders,
)
from regdash.reports.wording import counts_withheld
from regdash.store.cuts import Cut
from regdash.store.rules import SEVERITIES
from regdash.store.sqlfiles import sql_file, statement
from regdash.suggest import nearest

COLUMNS = ("submission", "file", "row", "rule", "severity", "hospital", "record", "value", "told")
COUNTED = (
    "Every row and rule of the data cut: a row that two rules found counts for each. Reject and hold keep a row from "
    "being counted; known already, warn and note do not. Rows that a later submission had replaced are left out."
)
LISTED = (
    "The rows that rules found as the data cut holds them, by submission, file and row. Patients' numbers are left out."
)
ASKED = (
    "Rules about hospitals and surgeons, each on the figures of a period beside what is usual: of all hospitals, or of "
    "the unit itself before. The rule's text says which, and its limit."
)
NO_FAULT = (
    "A figure that is unusual is a question to the unit, and no fault of any row; some will be unusual by chance."
)
OF_EVERY_JOINT = "Rows are of every joint: which one is certain only once a row is accepted."


def findings_report(cut: Cut, policy: Policy, cohort: Cohort) -> FindingsReport:
    """
    Count what rules found, by sender, file and rule.

    Args:
        cohort: of its words those on the hospital are followed: it is the sender. The rest is named in the head.
    """
    asked = senders(cohort)
    found = _counted(cut, asked)
    return FindingsReport(
        rows_head(cut, asked, "rows that rules found", COUNTED),
        tuple(replace(row, rows=policy.count(row.rows or 0)) for row in found),
        _by_rule(found, policy),
        tuple(_of_sender(name, list(own), policy) for name, own in groupby(found, lambda row: row.hospital)),
        _by_severity(found, policy),
    )


def _counted(cut: Cut, asked: Senders) -> list[FindingRow]:
    return [FindingRow(*row) for row in cut.rows(statement("queries/findings"), **asked.bound)]


def _by_rule(found: Iterable[FindingRow], policy: Policy) -> tuple[RuleTotal, ...]:
    """Add up over senders; the gravest first, then the most frequent."""
    rows: Counter[tuple[str, str, str]] = Counter()
    hospitals: Counter[tuple[str, str, str]] = Counter()
    told = {}
    for row in found:
        key = (row.file, row.rule, row.severity)
        rows[key] += row.rows or 0
        hospitals[key] += 1
        told[key] = row.told
    order = sorted(rows, key=lambda key: (SEVERITIES.index(key[2]), -rows[key], key))
    return tuple(RuleTotal(*key, told[key], policy.count(rows[key]), hospitals[key]) for key in order)


def _of_sender(name: str, found: Sequence[FindingRow], policy: Policy) -> SenderTotal:
    return SenderTotal(name, len({(row.file, row.rule) for row in found}), _by_severity(found, policy))


def _by_severity(found: Iterable[FindingRow], policy: Policy) -> dict[str, int | None]:
    counts: Counter[str] = Counter()
    for row in found:
        counts[row.severity] += row.rows or 0
    return {severity: policy.count(counts[severity]) for severity in SEVERITIES}


def found_rows_report(
    cut: Cut,
    policy: Policy,
    cohort: Cohort,
    rule: str | None = None,
    file: str | None = None,
    offset: int = 0,
    limit: int = PAGE,
    order: str = FIRST_ORDER,
) -> FoundRowsReport:
    """
    List the rows that rules found.

    Args:
        cohort: as for `findings_report`.
        rule: one rule alone.
        file: one file alone, as operations.
        order: one of COLUMNS, with a minus before it for falling order.

    Raises:
        FilterError: there is no such column.
        PolicyError: small counts are withheld, and each row is one.
    """
    policy.refuse_single("a list of rows")
    asked = senders(cohort)
    bound: dict[str, Any] = asked.bound | {"rule": rule, "table": file}
    found = cut.rows(statement("queries/finding_rows", order=_order(order)), **bound, most=limit, skipped=offset)
    total = sum(r.rows or 0 for r in _counted(cut, asked) if rule in (None, r.rule) and file in (None, r.file))
    head = rows_head(cut, asked, "rows that rules found", LISTED)
    return FoundRowsReport(head, tuple(FoundRow(*row) for row in found), total, offset)


def units_report(cut: Cut, policy: Policy, cohort: Cohort) -> UnitsReport:
    """
    List the hospitals and surgeons whose figures break a rule about units.

    Args:
        cohort: as for `findings_report`; surgeons are listed whichever hospitals are asked for.
    """
    asked = senders(cohort)
    why = counts_withheld(policy.withhold_counts_under) if policy.withholds_counts else None
    rows = [UnitRow(*row) for row in cut.rows(statement("queries/unusual_units"), **asked.bound)]
    if why:
        rows = [replace(row, figure=None, usual=None, withheld=why) for row in rows]
    return UnitsReport(rows_head(cut, asked, "questions to units", ASKED, (NO_FAULT,)), tuple(rows))


def rows_head(cut: Cut, asked: Senders, measure: str, method: str, cautions: Sequence[str] = ()) -> RowsHead:
    """Write the head of an answer about rows."""
    said = (*cautions, OF_EVERY_JOINT)
    return RowsHead(measure, asked.followed, asked.not_followed, cut.name, method, said)


def _order(order: str) -> str:
    """Say an order in SQL; the place of a row decides between equals, so that pages never overlap."""
    name = order.removeprefix("-")
    if name not in COLUMNS:
        raise FilterError(f"Rows have no column {name} to be ordered by. {nearest(name, COLUMNS, most=20)}")
    place, falls = COLUMNS.index(name) + 1, "desc" if order.startswith("-") else "asc"
    names = [column for column, _ in sql_file("queries/finding_rows").columns[:4]]
    return ", ".join([f"{place} {falls} nulls last", *(f"found.{column}" for column in names)])
