"""
Rules against a register whose faults are known: what submitted fields can reveal is found, clean rows are left alone.

The key of the synthetic register is the outside source: the generator writes it, which knows no rule's predicate.
"""

import csv
from collections import Counter, defaultdict
from dataclasses import dataclass
from datetime import date
from pathlib import Path

import duckdb
import pytest

from regdash.intake.receive import receive
from synthetic_registry.making import make

JOINTS = 3000
SPREAD = 0.001  # of clean rows that may be held

# What nothing submitted can reveal: another patient's pseudonym that fits or is nobody's, what was never sent, what is
# plausible and wrong.
NOT_REVEALED = {"missed-link", "corrected-later", "not-sent", "form-change", "under-reported", "false-link"}

# Where another fault of the record has rejected it or one of its rows, the hospital sends the whole again: what else
# was wrong with it is judged then.
REJECTING = {"operation-rejected", "reason-unknown"}
# A revision sent as a primary that lists only what was exchanged lacks a main component, and is held for that first.
ALSO = {"revision-as-primary": {"components-missing"}}


@dataclass(frozen=True)
class Measured:
    """The faults of the key, and what was found of which operation by which rules."""

    faults: list[dict[str, str]]
    found: dict[str, set[str]]  # rules by record
    held: set[str]  # operations that are held by a rule on operations
    rows: int  # operations received


@pytest.fixture(scope="module")
def measured(tmp_path_factory: pytest.TempPathFactory) -> Measured:
    folder: Path = tmp_path_factory.mktemp("recall")
    make(folder / "in", JOINTS, 2, False, folder / "key", date(2024, 12, 31))
    return measure(folder)


def measure(folder: Path) -> Measured:
    """Take a register in and read its key."""
    receive(folder / "store", [folder / "in"])
    with (folder / "key" / "faults.csv").open(encoding="utf-8", newline="") as file:
        faults = list(csv.DictReader(file))
    found: dict[str, set[str]] = defaultdict(set)
    with duckdb.connect(str(folder / "store" / "registry.duckdb"), read_only=True) as store:
        # All that was ever found, of replaced versions too.
        query = "select record_id, rule from (from held_rows union all by name from noted_rows)"
        alone = "select record_id, rule from row_findings"
        for record, rule in [*store.execute(query).fetchall(), *store.execute(alone).fetchall()]:
            found[record].add(rule)
        # Of a death the record is the patient.
        for operation, person in store.execute("select distinct operation_id, patient_id from operations").fetchall():
            found[operation] |= found.get(person, set())
        query = "select distinct record_id from held_rows where table_name = 'operations' and severity = 'hold'"
        held = {record for (record,) in store.execute(query).fetchall()}
        ((rows,),) = store.execute("select count(*) from operations").fetchall()
    return Measured(faults, found, held, rows)


def missed(measured: Measured) -> dict[str, Counter[str]]:
    """Count the faults of each rule that were found, and those that were not."""
    counts: dict[str, Counter[str]] = defaultdict(Counter)
    for fault in measured.faults:
        if fault["revealed"] != "yes" or not fault["rule"]:
            continue
        found = measured.found[fault["operation_id"]]
        hit = bool(found & ({*fault["rule"].split()} | REJECTING | ALSO.get(fault["kind"], set())))
        counts[fault["rule"]]["found" if hit else "missed"] += 1
    return counts


def test_every_planted_fault_that_is_revealed_is_found_by_its_rule(measured):
    counts = missed(measured)
    assert len(counts) > 20
    assert {rule: count["missed"] for rule, count in counts.items() if count["missed"]} == {}


def test_what_nothing_reveals_is_listed_as_such(measured):
    unrevealed = {fault["kind"] for fault in measured.faults if fault["revealed"] != "yes"}
    assert unrevealed & NOT_REVEALED
    assert {fault["kind"] for fault in measured.faults if fault["revealed"] == "yes" and not fault["rule"]} <= {
        "missing",
        "sent-again",
    }


def test_hardly_a_clean_row_is_held(measured):
    faulty = {fault["operation_id"] for fault in measured.faults}
    wrongly = measured.held - faulty
    assert len(wrongly) <= SPREAD * measured.rows, sorted(wrongly)
