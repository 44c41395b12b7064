"""
The rules of a store: which version of each rule is in force, for rows received when.

A store keeps every rule it was ever settled by, with its predicate, so that what was accepted or held stays so when
the program's rules change. A new or changed rule judges what is received from then on; to all rows it is applied when
somebody says so, and a cut as known on an earlier day is made by the rules of that day. Rules on the text of rows
(`read_…`) judge each row once, when it is taken in, since the text is not kept.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import duckdb

from regdash.store.connect import reading
from regdash.store.cuts import Cut
from regdash.store.rules import DAYS, JUDGED, ROWS_FROM, ROWS_TO, Rule, every_rule, table_of
from regdash.store.run import run
from regdash.store.sqlfiles import statement

WITHHOLDING = ("hold", "known already")


@dataclass(frozen=True)
class Pending:
    """A rule that judges only what came after it, and how many rows that count it would take out."""

    rule: str
    version: int
    severity: str
    rows: int

    def told(self, *, is_applied: bool = False) -> str:
        """Say what the rule takes out, or would."""
        took = "takes out" if is_applied else "is newer than what it would judge, and would take out"
        rows = "1 row that was counted" if self.rows == 1 else f"{self.rows:,} rows that were counted"
        return f"Rule {self.rule} (version {self.version}) {took} {rows}."


def enter_rules(connection: duckdb.DuckDBPyConnection) -> None:
    """Write the program's rules into a store: to an empty one for all rows, else for rows received after the latest."""
    ((latest,),) = connection.execute("select max(received_date) from submissions").fetchall()
    begins = ROWS_FROM if latest is None else latest + timedelta(days=1)
    known = {(rule.relation, rule.name): rule for rule in _open_rules(connection)}
    own = {(rule.relation, rule.name): rule for rule in every_rule()}
    for key in known.keys() - {key for key, rule in own.items() if same(rule, known.get(key))}:
        run(connection, "store/end_rule", {"relation": key[0], "rule": key[1], "begins": begins})
    _insert(connection, [rule for key, rule in own.items() if not same(rule, known.get(key))], begins, begins)


def apply_rules(connection: duckdb.DuckDBPyConnection) -> None:
    """Let the program's rules judge all rows, in what is settled from the latest receipt on."""
    enter_rules(connection)
    ((latest,),) = connection.execute("select max(received_date) from submissions").fetchall()
    if latest is None:
        return
    changed = {(relation, name) for relation, name in run(connection, "store/partial_rules")}
    for relation, name in changed:
        run(connection, "store/retire_rule", {"relation": relation, "rule": name, "today": latest})
    own = [rule for rule in every_rule() if (rule.relation, rule.name) in changed]
    _insert(connection, own, ROWS_FROM, latest)


def same(one: Rule, other: Rule | None) -> bool:
    """Tell whether two rules judge alike and say the same."""
    return other is not None and _told(one) == _told(other)


def _told(rule: Rule) -> tuple[object, ...]:
    return (rule.version, rule.severity, rule.starts, rule.shows, rule.text, rule.predicate)


def _insert(connection: duckdb.DuckDBPyConnection, rules: list[Rule], rows_from: date, in_force_from: date) -> None:
    with connection.appender("rules") as rows:
        for r in rules:
            said = (
                r.relation,
                table_of(r.relation),
                r.name,
                r.version,
                r.severity,
                r.starts,
                r.shows,
                r.text,
            )
            rows.append_row(*said, r.predicate, rows_from, None, in_force_from, None)


def _open_rules(connection: duckdb.DuckDBPyConnection) -> list[Rule]:
    return as_rules(run(connection, "store/open_rules"))


def all_in_force(connection: duckdb.DuckDBPyConnection, as_of: date) -> list[Rule]:
    """List the rules that what was known on a day is settled by; of a cut, those that it was made by."""
    return as_rules(run(connection, "store/rules_in_force", {"as_of": as_of}))


def rules_in_force(connection: duckdb.DuckDBPyConnection, as_of: date) -> Mapping[str, list[Rule]]:
    """Give the rules that what was known on a day is settled by, by the relation that they judge."""
    by_relation: dict[str, list[Rule]] = {}
    for rule in all_in_force(connection, as_of):
        by_relation.setdefault(rule.relation, []).append(rule)
    return by_relation


def as_rules(rows: list[tuple[Any, ...]]) -> list[Rule]:
    """Read rules as the statements on them list them."""
    return [
        Rule(name, relation, version, severity, starts, shows, text, "", predicate, rows_from, rows_to)
        for name, relation, version, severity, starts, shows, text, predicate, rows_from, rows_to in rows
    ]


def pending(connection: duckdb.DuckDBPyConnection, as_of: date) -> list[Pending]:
    """Count, once all is settled, the rows that count which each rule would take out that judges later rows alone."""
    found: list[Pending] = []
    for relation, rule in _pending_rules(connection, as_of):
        values = {"table_name": JUDGED[relation], "starts": rule.starts, "rows_from": rule.rows_from}
        parts = {"relation": relation, "predicate": rule.predicate, "day": DAYS.get(relation, "known_from")}
        ((rows,),) = run(connection, "settle/would_hold", values, **parts)
        found.append(Pending(rule.name, rule.version, rule.severity, rows))
    return found


def has_pending(connection: duckdb.DuckDBPyConnection, as_of: date) -> bool:
    """Tell whether `pending` would look at any rule."""
    return bool(_pending_rules(connection, as_of))


def _pending_rules(connection: duckdb.DuckDBPyConnection, as_of: date) -> list[tuple[str, Rule]]:
    """List the withholding rules on records that judge later rows alone, each with its relation."""
    return [
        (relation, rule)
        for relation, rules in rules_in_force(connection, as_of).items()
        for rule in rules
        if rule.rows_from > ROWS_FROM
        and rule.rows_to is None
        and rule.severity in WITHHOLDING
        and not relation.startswith("read_")
    ]


def rules_today(store: Path) -> list[tuple[str, Rule]]:
    """
    List the rules in force in a store, each with the file or unit that it speaks of.

    Raises:
        StoreError: there is no store, or a writer holds it.
    """
    with reading(store) as connection:
        rules = all_in_force(connection, ROWS_TO - timedelta(days=1))
    return [(table_of(rule.relation), rule) for rule in rules]


def units_asked(store: Path, cut: str | None = None) -> tuple[str, list[tuple[Any, ...]]]:
    """
    List what a data cut asks of hospitals and surgeons, and name the cut (the newest if none is asked for).

    Raises:
        StoreError: there is no such cut.
    """
    opened = Cut(store, cut)
    try:
        return opened.name, opened.rows(statement("queries/unit_findings"))
    finally:
        opened.close()


def not_entered(store: Path) -> int:
    """Count the rules of this release that a store does not have in this version yet."""
    with reading(store) as connection:
        known = {(rule.relation, rule.name): rule for rule in _open_rules(connection)}
    return sum(not same(rule, known.get((rule.relation, rule.name))) for rule in every_rule())
