"""
Late corrections: submissions that change operations which a data cut had counted already.

They are compared with the newest cut alone, which counts all that earlier ones count and is known later; what an older
one had counted otherwise was told when that change came. They are worked out from the store and its cuts whenever
somebody asks, and are no part of what a cut holds: that depends on what was submitted alone, and not on which cuts were
made of it. The changes themselves are the log of corrections.
"""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

import duckdb

from regdash.store.cuts import LAYOUT, Cut, Manifest, cut_path, list_cuts
from regdash.store.held import refuse_unknown
from regdash.store.rule_book import all_in_force, as_rules
from regdash.store.rules import ROWS_TO, SUBMISSIONS, Rule
from regdash.store.run import run
from regdash.store.sqlfiles import statement
from regdash.store.unfit_rules import fitting


@dataclass(frozen=True)
class SubmissionFinding:
    """What a rule found in a submission as a whole."""

    submission: str
    hospital: str
    rule: str
    version: int
    severity: str
    value: str
    text: str

    def told(self) -> str:
        """Say it in one line."""
        return f"Submission {self.submission} ({self.value}): {self.text}"


@dataclass(frozen=True)
class Changed:
    """An operation that a submission changed."""

    operation_id: str
    submission: str
    hospital: str
    received: date
    sequence: int


def late_in_store(
    connection: duckdb.DuckDBPyConnection, store: Path, submissions: Sequence[str], as_of: date
) -> list[SubmissionFinding]:
    """
    Judge submissions of a store that is settled by what they change of its newest data cut, where it can be read.

    Raises:
        UnfitRuleError: a rule of an older release does not fit.
        StoreError: the cut is damaged.
    """
    counted = newest_before(store)
    if counted is None:
        return []
    changed = run(connection, "settle/changed_operations", {"submissions": list(submissions)})
    rules = [rule for rule in all_in_force(connection, as_of) if rule.relation == SUBMISSIONS]
    return _judged(store, counted, [Changed(*row) for row in changed], rules)


def late_in_cut(
    store: Path, cut: str | None = None, hospital: str | None = None
) -> tuple[str, str | None, list[SubmissionFinding]]:
    """
    Judge the submissions that made a cut (or those of one hospital) by what they changed of the one before; name both.

    Raises:
        StoreError: there is no such cut, or it is damaged.
        FilterError: no such hospital has sent anything.
        UnfitRuleError: a rule of an older release does not fit.
    """
    opened = Cut(store, cut)
    try:
        refuse_unknown(opened, hospital)
        before = newest_before(store, opened.manifest)
        if before is None:
            return opened.name, None, []
        changed = opened.rows(statement("queries/corrected_operations"), since=date.fromisoformat(before.known_as_of))
        rules = as_rules(opened.rows(statement("queries/rules_of"), relation=SUBMISSIONS))
    finally:
        opened.close()
    found = _judged(store, before, [Changed(*row) for row in changed], rules)
    return opened.name, before.cut, [one for one in found if hospital in (None, one.hospital)]


def newest_before(store: Path, later: Manifest | None = None) -> Manifest | None:
    """Find the newest cut that can be read; where a later one is given, of those no later that were known earlier."""
    there = [
        one
        for one in list_cuts(store)
        if one.layout == LAYOUT
        and cut_path(store, one.cut).is_file()
        and (later is None or (one.through_date <= later.through_date and one.known_as_of < later.known_as_of))
    ]
    return max(there, key=lambda one: (one.through_date, one.known_as_of), default=None)


def _judged(
    store: Path, counted: Manifest, changed: Sequence[Changed], rules: Sequence[Rule]
) -> list[SubmissionFinding]:
    late = _late(store, counted, changed)
    if not late or not rules:
        return []
    with duckdb.connect() as beside:
        run(beside, "settle/corrected_submissions")
        with beside.appender(SUBMISSIONS) as rows:
            for (submission, hospital, received), operations in late.items():
                rows.append_row(submission, hospital, received, counted.cut, operations)
        found = [row for rule in fitting(beside, rules) for row in _apply(beside, rule)]
    return [SubmissionFinding(*row) for row in sorted(found)]


def _apply(beside: duckdb.DuckDBPyConnection, rule: Rule) -> Iterable[tuple[Any, ...]]:
    values = {
        "rule": rule.name,
        "rule_version": rule.version,
        "severity": rule.severity,
        "text": rule.text,
        "starts": rule.starts,
        "rows_from": rule.rows_from,
        "rows_to": rule.rows_to or ROWS_TO,
    }
    return run(beside, "settle/submission_findings", values, shows=rule.shows, predicate=rule.predicate)


def _late(store: Path, counted: Manifest, changed: Sequence[Changed]) -> Counter[tuple[str, str, date]]:
    """Count by submission the operations that the cut had counted as an earlier submission said them."""
    if not changed:
        return Counter()
    opened = Cut(store, counted.cut)
    try:
        ids = sorted({one.operation_id for one in changed})
        sequences = dict(opened.rows(statement("queries/counted_versions"), operation_ids=ids))
    finally:
        opened.close()
    return Counter(
        (one.submission, one.hospital, one.received)
        for one in changed
        if one.operation_id in sequences and one.sequence > sequences[one.operation_id]
    )
