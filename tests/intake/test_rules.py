"""
Every rule fires on the row it is for, and on no other.

What is a fault, and whether it rejects, holds or warns, is common practice of registry offices (no
published source for the list as a whole); ages, BMI limits and the twelve months are settings of that practice.
"""

from dataclasses import replace
from datetime import date
from pathlib import Path

import duckdb
import pytest

from regdash.dictionary import PATIENT_FORM
from regdash.intake.receive import receive
from regdash.store.rules import JUDGED, SEVERITIES, SUBMISSIONS, UNITS, Rule, all_rules, rules_of
from tests.intake import rule_cases_of_files, rule_cases_of_records  # noqa: F401 - they put their rows into CASES
from tests.intake.rule_bench import CASES, DAY, LATER, Bench, write
from tests.intake.small_register import (
    SmallRegister,
    component,
    patient,
    primary,
    revision,
)

# This one needs a hospital that the units feed does not name, and is made beside the bench.
BESIDE = {("operation_facts", "hospital-unknown"): "H003-0000001"}
# A record that breaks one rule can break another with it.
TOGETHER = {
    ("read_operations", "birth-year-implausible"): {"young-osteoarthritis"},
    ("operation_facts", "class-disagrees"): {"bearing-disagrees"},
    ("same_day_operations", "same-day-other-components"): {"mixed-makers"},
    ("deaths_before_operation", "death-before-birth"): {"death-before-operation"},
}


@pytest.fixture(scope="module")
def found(tmp_path_factory) -> dict[tuple[str, str, str], str]:
    """What rules found in the register of all cases: severity by file, record and rule."""
    folder = tmp_path_factory.mktemp("rules")
    bench = Bench()
    records = {key: make(bench, n) for n, (key, make) in enumerate(CASES.items(), 1)}
    clean = bench.add(primary("H001-9999900", 999, DAY))
    bench.add(revision("H001-9999901", 999, LATER))
    assert clean not in records.values()
    write(SmallRegister(folder / "in"), bench)
    receive(folder / "store", [folder / "in"])
    with duckdb.connect(str(folder / "store" / "registry.duckdb"), read_only=True) as store:
        query = "select table_name, record_id, rule, severity from (from held_rows union all from noted_rows)"
        return {row[:3]: row[3] for row in store.execute(query).fetchall()}


@pytest.fixture(scope="module")
def records() -> dict[tuple[str, str], str]:
    bench = Bench()
    return {key: make(bench, n) for n, (key, make) in enumerate(CASES.items(), 1)} | BESIDE


HERE = [rule for rule in all_rules() if (rule.relation, rule.name) in {*CASES, *BESIDE}]


@pytest.mark.parametrize("rule", HERE, ids=lambda rule: f"{rule.relation}/{rule.name}")
def test_a_rule_fires_on_the_row_it_is_for_and_no_other_rule_does(rule, found, records):
    table, record = JUDGED[rule.relation], records[rule.relation, rule.name]
    fired = {name: severity for (of, about, name), severity in found.items() if (of, about) == (table, record)}
    together = TOGETHER.get((rule.relation, rule.name), set())
    assert fired.pop(rule.name) == rule.severity
    assert set(fired) == together


def test_nothing_is_found_in_rows_without_a_fault(found):
    clean = {f"H001-99999{k:02d}" for k in (0, 1)}
    assert not clean & {record for _, record, _ in found}


def test_every_rule_says_what_it_must():
    for rule in all_rules():
        assert rule.severity in SEVERITIES
        assert rule.version >= 1
        assert rule.text.endswith((".", "?"))
        assert rule.about.endswith(".")


def test_every_rule_has_a_row_that_breaks_it():
    from tests.intake import test_rules_of_joints as joints
    from tests.intake import test_rules_of_rows as rows

    tried = {name for _, name in {*CASES, *BESIDE}} | {*rows.ALL} | {*joints.CASES}
    assert {rule.name for rule in all_rules()} == tried


def test_every_folder_of_rules_is_judged():
    folders = {path.name for path in (Path(__file__).parents[2] / "sql" / "rules").iterdir()}
    assert folders == {relation for relation in (*JUDGED, UNITS, SUBMISSIONS) if rules_of(relation)}


def test_the_form_of_a_pseudonym_is_that_of_the_dictionary():
    assert PATIENT_FORM.fullmatch(patient(1))
    assert PATIENT_FORM.fullmatch("QABCDEFGHIJKL2345")
    for other in ("P12345678", "P1234567890", "QABCDEFGHIJKL234", "QABCDEFGHIJKL0189", "xP123456789"):
        assert not PATIENT_FORM.fullmatch(other)


@pytest.mark.parametrize(("field", "rule"), [("birth_year", "birth-year-implausible"), ("bmi", "bmi-implausible")])
def test_a_number_too_large_for_its_column_is_a_finding_and_no_crash(field, rule, tmp_path):
    register = SmallRegister(tmp_path / "in")
    register.operations("2005-01-15", [primary("H001-1", 1, DAY, **{field: "99999999"})])
    parts = [component("H001-2", 1, "stem", "KF001-3A") | {"line_no": "99999999"}]
    register.operations("2005-04-15", [primary("H001-2", 2, DAY)], parts)
    receive(tmp_path / "store", [tmp_path / "in"])
    with duckdb.connect(str(tmp_path / "store" / "registry.duckdb"), read_only=True) as store:
        found = {row[0] for row in store.execute("select rule from row_findings").fetchall()}
    assert found >= {rule, "line-unreadable"}


def test_a_rule_judges_operations_from_the_day_it_starts(tmp_path, monkeypatch):
    began = date(2005, 2, 1)

    def from_then(relation: str) -> tuple[Rule, ...]:
        return tuple(replace(rule, starts=began) for rule in rules_of(relation))

    monkeypatch.setattr("regdash.store.rules.rules_of", from_then)
    register = SmallRegister(tmp_path / "in")
    register.operations("2005-01-15", [primary("H001-1", 1, DAY, bmi="99")])
    register.operations("2005-04-15", [primary("H001-2", 2, "2005-03-03", bmi="99")])
    receive(tmp_path / "store", [tmp_path / "in"])
    with duckdb.connect(str(tmp_path / "store" / "registry.duckdb"), read_only=True) as store:
        found = store.execute("select record_id, rule from (from held_rows union all from noted_rows)").fetchall()
    assert {record for record, _ in found} == {"H001-2"}
    assert {rule for _, rule in found} >= {"bmi-implausible", "hospital-unknown"}
