"""What the data dictionary says of a cell, intake holds to: a cell that breaks it draws a finding."""

import csv
import subprocess
import sys

import duckdb
import pytest

from regdash.dictionary import KINDS
from regdash.dictionary.descriptors import SCHEMAS
from regdash.intake.receive import receive
from tests.dictionary.plain_validator import fault_of, faults_of
from tests.intake.small_register import SmallRegister, component, primary, reason, revision

RECEIVED = "2005-01-01"
# Codes that are read, kept and judged as a whole: a malformed one is found by the rules on ICD-10 and on labels.
READ_AS_A_WHOLE = {("operations", "icd10"), ("catalogue", "gtin")}
SPOILS = {"string": "no-such-word", "number": "much", "integer": "-1", "date": "31.3.2004", "boolean": "maybe"}


def cases():
    for table, schema in SCHEMAS.items():
        for field in schema.fields:
            if field.constraints.get("required"):
                yield table, field, ""
            spoilt = SPOILS.get(field.kind, "2004-13-01")
            if (table, field.name) not in READ_AS_A_WHOLE and fault_of(field, spoilt):
                yield table, field, spoilt


CASES = list(cases())


def row_of(table, n):
    """A row without a fault, with a record of its own."""
    number = f"H001-{n:07d}"
    rows = {
        "operations": revision(number, n, "2004-03-01"),
        "components": component(number, 1, "femoral", "KF001-3A"),
        "reasons": reason(number),
        "catalogue": {"catalogue_no": f"C{n}", "maker": "M01", "implant": "KF-001", "role": "femoral", "joint": "knee"},
        "pairs": {"implant": f"X{n}", "paired_implant": "KT-001", "size_steps": "1"},
        "hospitals": {"hospital_id": f"U{n}"},
        "surgeons": {"surgeon_id": f"S{n}"},
        "systems": {"hospital_id": f"U{n}", "technology_system": "T01"},
        "deaths": {"patient_id": f"P{n:09d}", "death_date": "2004-09-01"},
        "losses": {"patient_id": f"P{n:09d}", "loss_date": "2004-09-01", "loss": "emigrated"},
        "admin_counts": {
            "hospital_id": f"U{n}",
            "joint": "knee",
            "kind": "primary",
            "month": "2004-03",
            "operations": "12",
        },
    }
    return rows[table]


@pytest.fixture(scope="module")
def found(tmp_path_factory):
    """Each case's place (table and row), and the places that draw a finding."""
    folder = tmp_path_factory.mktemp("spoilt")
    register = SmallRegister(folder / "in")
    tables = {table: [] for table in SCHEMAS}
    places = []
    for n, (table, field, cell) in enumerate(CASES, 101):
        if table in ("components", "reasons"):
            tables["operations"].append(row_of("operations", n))
        tables[table].append(row_of(table, n) | {field.name: cell})
        places.append((table, len(tables[table])))
    for kind in KINDS.values():
        sender = {"sender": "H001"} if kind.name == "operations" else {}
        register.submit(kind.name, RECEIVED, {table: tables[table] for table in kind.tables}, **sender)
    receive(folder / "store", [folder / "in"])
    with duckdb.connect(str(folder / "store" / "registry.duckdb"), read_only=True) as store:
        rows = store.execute(
            "select table_name, (place % 1000000000)::integer from row_findings"
            " union select table_name, row_no from held_rows"  # what is known with the other files alone
        ).fetchall()
    return dict(zip(range(len(CASES)), places, strict=True)), set(rows)


@pytest.mark.parametrize("number", range(len(CASES)), ids=[f"{t}.{f.name}={c or 'empty'}" for t, f, c in CASES])
def test_a_cell_that_breaks_the_dictionary_draws_a_finding(number, found):
    places, findings = found
    assert places[number] in findings


def test_a_row_without_a_fault_is_none_to_the_dictionary_either():
    for table, schema in SCHEMAS.items():
        rows = [dict.fromkeys(schema.columns, "") | row_of(table, 1)]
        assert list(faults_of(schema, rows)) == []
    assert list(faults_of(SCHEMAS["operations"], [dict.fromkeys(TABLE, "") | primary("H001-1", 1, "2004-03-01")])) == []


TABLE = SCHEMAS["operations"].columns


def test_what_the_generator_writes_is_as_the_dictionary_says(tmp_path):
    command = [sys.executable, "-m", "synthetic_registry", str(tmp_path / "made"), "--joints", "500", "--clean"]
    subprocess.run(command, check=True, capture_output=True)
    seen = set()
    for path in (tmp_path / "made").rglob("*.csv"):
        with path.open(newline="", encoding="utf-8") as file:
            rows = list(csv.DictReader(file))
        seen |= {path.stem} if rows else set()
        assert list(faults_of(SCHEMAS[path.stem], rows)) == [], path
    assert {"operations", "components", "reasons", "catalogue", "hospitals", "surgeons", "deaths"} <= seen
