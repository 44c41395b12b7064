"""
The rules that submitted rows are judged by: one predicate a file, in a folder named for the relation it judges.
"""

import functools
import hashlib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

import duckdb

from regdash.dictionary.descriptors import with_limits
from regdash.store.rule_settings import with_settings
from regdash.store.run import run
from regdash.store.sqlfiles import sql_file, sql_folder

SEVERITIES = ("reject", "hold", "known already", "warn", "note")

# The file whose rows each relation judges. Those read from one file alone come first; they are
# judged once, when it is taken in. The rest are judged anew whenever more is known.
JUDGED = {
    "read_operations": "operations",
    "read_components": "components",
    "read_reasons": "reasons",
    "read_catalogue": "catalogue",
    "read_pairs": "pairs",
    "read_hospitals": "hospitals",
    "read_surgeons": "surgeons",
    "read_systems": "systems",
    "read_deaths": "deaths",
    "read_losses": "losses",
    "read_admin_counts": "admin_counts",
    "operation_facts": "operations",
    "operation_components": "operations",
    "size_pairs": "operations",
    "same_day_operations": "operations",
    "shared_serials": "operations",
    "death_versions": "deaths",
    "operations_after_death": "operations",
    "deaths_before_operation": "deaths",
    "operations_after_loss": "operations",
    "primaries_in_order": "operations",
    "patient_operations": "operations",
    "removed_lines": "components",
    "removed_twice": "operations",
    "revisions_and_primaries": "operations",
    "operations_near_death": "operations",
    "both_sides": "operations",
    "component_facts": "components",
    "reason_facts": "reasons",
}

# Relations too large to be written down: one scan finds the rows that break any rule.
VIEWS = ("operation_facts", "operation_components", "component_facts")

# The day that a rule's start is compared with, where it is not the day of receipt.
DAYS = {
    "read_operations": "coalesce(operation_date, known_from)",
    "operation_facts": "operation_date",
    "operation_components": "operation_date",
    "component_facts": "operation_date",
}


# Rules about hospitals and surgeons by period; what they find is a question about a unit, not about a row.
UNITS = "unit_figures"
# Rules about submissions as a whole, beside the data cuts that stand.
SUBMISSIONS = "corrected_submissions"

ROWS_FROM, ROWS_TO = date(1900, 1, 1), date(9999, 12, 31)


@dataclass(frozen=True)
class Rule:
    """One rule; it fires on a row of `relation` where `predicate` is true."""

    name: str
    relation: str
    version: int
    severity: str
    starts: date  # operations of an earlier day, or files received earlier, are not judged by it
    shows: str  # expression for what the row said, or null
    text: str  # what the hospital is told
    about: str  # why the rule is there
    predicate: str
    rows_from: date = ROWS_FROM  # rows received earlier are not judged by it
    rows_to: date | None = None  # nor are those received from this day on


@functools.cache
def rules_of(relation: str) -> tuple[Rule, ...]:
    """List the rules that judge one relation, by name."""
    paths = sorted((sql_folder() / "rules" / relation).glob("*.sql"))
    return tuple(_read(relation, path.stem) for path in paths)


def _read(relation: str, name: str) -> Rule:
    file = sql_file(f"rules/{relation}/{name}")
    said = file.fields
    return Rule(
        name=name,
        relation=relation,
        version=int(said["version"]),
        severity=said["severity"],
        starts=date.fromisoformat(said["starts"]),
        shows=_filled(said.get("shows", "null")),
        text=_filled(" ".join(said["text"].split())),
        about=file.about,
        predicate=_filled(file.query),
    )


def _filled(text: str) -> str:
    return with_settings(with_limits(text))


def all_rules() -> tuple[Rule, ...]:
    """List every rule, relation by relation."""
    return tuple(rule for relation in JUDGED for rule in rules_of(relation))


def unit_rules() -> tuple[Rule, ...]:
    """List the rules about hospitals and surgeons."""
    return rules_of(UNITS)


def every_rule() -> tuple[Rule, ...]:
    """List the rules about rows, units and submissions."""
    return (*all_rules(), *unit_rules(), *rules_of(SUBMISSIONS))


def table_of(relation: str) -> str:
    """Name what a rule on a relation speaks of: a file, units or submissions."""
    return JUDGED.get(relation, "submissions" if relation == SUBMISSIONS else "units")


def rule_set(rules: Iterable[Rule] | None = None) -> str:
    """Name rules and their versions (the program's, if none are given) in one word that changes with any of them."""
    rules = sorted(rules or every_rule(), key=lambda r: (r.relation, r.name, r.version))
    told = "\n".join(f"{r.relation} {r.name} {r.version} {r.severity} {r.starts} {r.predicate}" for r in rules)
    return f"{len(rules)}-{hashlib.sha256(told.encode()).hexdigest()[:12]}"


def judge(
    connection: duckdb.DuckDBPyConnection,
    relation: str,
    findings: str = "findings_of_records",
    rules: Sequence[Rule] | None = None,
) -> None:
    """Apply rules (if left out, all of the program's) to a relation, and add what they find to a table of findings."""
    rules, source = rules_of(relation) if rules is None else rules, relation
    if not rules:
        return
    if relation in VIEWS:
        source = "broken_rows"
        run(connection, "settle/broken_rows", relation=relation, any=" or ".join(f"({r.predicate})" for r in rules))
    for rule in rules:
        values = {
            "table_name": JUDGED[relation],
            "rule": rule.name,
            "rule_version": rule.version,
            "severity": rule.severity,
            "text": rule.text,
            "starts": rule.starts,
            "rows_from": rule.rows_from,
            "rows_to": rule.rows_to or ROWS_TO,
        }
        parts = {
            "findings": findings,
            "relation": source,
            "shows": rule.shows,
            "predicate": rule.predicate,
            "day": DAYS.get(relation, "known_from"),
        }
        run(connection, "settle/judge", values, **parts)


def judge_units(connection: duckdb.DuckDBPyConnection, rules: Sequence[Rule]) -> None:
    """Apply rules about hospitals and surgeons to their figures, and write what they find into a cut."""
    for rule in rules:
        values = {"rule": rule.name, "rule_version": rule.version, "severity": rule.severity, "text": rule.text}
        run(connection, "freeze/unit_findings", values, shows=rule.shows, predicate=rule.predicate)
