"""Every submitted column reaches the store, makes a new version where it changes, and goes to the cut as it should."""

from datetime import date
from pathlib import Path
from typing import Any

import duckdb
import pytest

from regdash.dictionary.descriptors import SCHEMAS
from regdash.intake.receive import receive
from regdash.store.cuts import cut_path
from regdash.store.freeze import freeze
from tests.intake.small_register import SmallRegister, component, primary, reason, revision

THROUGH = date(2006, 12, 31)
OTHER = {  # another value than the rows below have
    "height_cm": "171",
    "weight_kg": "82.5",
    "icd10": "M17.9",
    "admission_date": "2004-02-27",
    "discharge_date": "2004-03-09",
    "technology_system": "T02",
    "serial": "S2",
    "expiry_date": "2011-01-01",
    "udi": "(01)06291041500213(21)S2",
    "note": "another",
}
NEW = {
    "operations": ("height_cm", "weight_kg", "icd10", "admission_date", "discharge_date", "technology_system"),
    "components": ("serial", "expiry_date", "udi"),
    "reasons": ("note",),
}
NUMBER = "H001-0000001"
OPERATION = revision(
    NUMBER,
    1,
    "2004-03-01",
    height_cm="170",
    weight_kg="81.5",
    icd10="M17.1",
    admission_date="2004-02-28",
    discharge_date="2004-03-08",
    technology_system="T01",
)
PART = component(NUMBER, 1, "bearing insert", "KI001-3A") | {
    "serial": "S1",
    "expiry_date": "2010-01-01",
    "udi": "(01)06291041500213(21)S1",
}
REASON = reason(NUMBER, "other") | {"note": "seen by nobody else"}


def asked(path: Path, query: str) -> list[tuple[Any, ...]]:
    with duckdb.connect(str(path), read_only=True) as connection:
        return connection.execute(query).fetchall()


def begun(tmp_path: Path) -> SmallRegister:
    register = SmallRegister(tmp_path / "in")
    register.catalogue()
    register.units()
    return register


@pytest.mark.parametrize(("table", "column"), [(table, name) for table, names in NEW.items() for name in names])
def test_a_version_that_differs_in_one_column_is_a_new_version(table, column, tmp_path):
    register = begun(tmp_path)
    rows = {"operations": OPERATION, "components": PART, "reasons": REASON}
    register.operations("2005-01-15", [OPERATION], [PART], [REASON])
    rows[table] = rows[table] | {column: OTHER[column]}
    register.operations("2005-04-15", [rows["operations"]], [rows["components"]], [rows["reasons"]])
    register.operations("2005-07-15", [rows["operations"]], [rows["components"]], [rows["reasons"]])
    receive(tmp_path / "store", [tmp_path / "in"])
    query = "select known_from::varchar, known_to::varchar, repeats from operations order by known_from"
    assert asked(tmp_path / "store" / "registry.duckdb", query) == [
        ("2005-01-15", "2005-04-15", False),
        ("2005-04-15", None, False),
        ("2005-07-15", "2005-07-15", True),
    ]


FEEDS = {
    "catalogue": {"catalogue_no": "C1", "maker": "M01", "implant": "KF-001", "role": "femoral", "joint": "knee"},
    "pairs": {"implant": "KF-001", "paired_implant": "KT-001", "size_steps": "1"},
    "systems": {"hospital_id": "H001", "technology_system": "T01", "active_from": "2003-01-01"},
}
CHANGED = [
    ("catalogue", "gtin", "06291041500213"),
    ("catalogue", "material", "ceramic"),
    ("catalogue", "side", "left"),
    ("pairs", "size_steps", "2"),
    ("systems", "active_from", "2003-02-01"),
    ("systems", "active_to", "2005-02-01"),
]
TABLES = {"catalogue": "catalogue", "pairs": "catalogue_pairs", "systems": "hospital_systems"}


@pytest.mark.parametrize(("table", "column", "other"), CHANGED)
def test_a_record_of_a_feed_that_differs_in_one_column_is_a_new_version(table, column, other, tmp_path):
    register = SmallRegister(tmp_path / "in")
    kind = "units" if table == "systems" else "catalogue"
    row = FEEDS[table]
    other_row = row | {column: other}
    for received, said in (("2003-01-01", row), ("2004-01-01", other_row), ("2005-01-01", other_row)):
        register.submit(kind, received, {table: [said]})
    receipt = receive(tmp_path / "store", [tmp_path / "in"])
    query = f"select known_from::varchar, known_to::varchar, repeats from {TABLES[table]} order by known_from"
    assert asked(tmp_path / "store" / "registry.duckdb", query) == [
        ("2003-01-01", "2004-01-01", False),
        ("2004-01-01", None, False),
        ("2005-01-01", "2005-01-01", True),
    ]
    assert [(f.accepted, f.known_already) for f in receipt.files if f.table == table] == [(1, 0), (1, 0), (0, 1)]


@pytest.fixture(scope="module")
def cut(tmp_path_factory):
    """A cut of one primary and one revision, and of a catalogue with pairs and a hospital with a system."""
    folder = tmp_path_factory.mktemp("columns")
    register = SmallRegister(folder / "in")
    register.catalogue()
    register.submit("catalogue", "2000-02-01", {"pairs": [FEEDS["pairs"]]})
    register.units()
    register.submit("units", "2003-02-01", {"systems": [FEEDS["systems"]]})
    first = primary("H001-0000002", 1, "2003-06-01")
    register.operations("2005-01-15", [first, OPERATION], None, [REASON])
    register.operations("2005-04-15", [OPERATION], [PART], [REASON])
    receive(folder / "store", [folder / "in"])
    return cut_path(folder / "store", freeze(folder / "store", THROUGH, date(2007, 1, 1)).cut)


def test_a_cut_holds_what_the_forms_said(cut):
    query = """
        select height_cm::double, weight_kg::double, icd10, admission_date::varchar, discharge_date::varchar,
            technology_system
        from operations where kind = 'revision'
    """
    assert asked(cut, query) == [(170.0, 81.5, "M17.1", "2004-02-28", "2004-03-08", "T01")]
    query = f"select serial, expiry_date::varchar, udi from components where operation_id = '{NUMBER}'"
    assert asked(cut, query) == [("S1", "2010-01-01", "(01)06291041500213(21)S1")]
    assert asked(cut, "select implant, paired_implant, size_steps from catalogue_pairs") == [("KF-001", "KT-001", 1)]
    assert asked(cut, "select hospital_id, technology_system from hospital_systems") == [("H001", "T01")]


def test_a_cut_tells_that_there_is_a_note_and_never_what_it_says(cut):
    assert asked(cut, "select has_note from revision_reasons") == [(True,)]
    assert REASON["note"].encode() not in cut.read_bytes()
    texts = "select table_name, column_name from duckdb_columns() where data_type = 'VARCHAR' and not internal"
    for table, column in asked(cut, texts):
        assert asked(cut, f"select count(*) from {table} where {column} = '{REASON['note']}'") == [(0,)]


@pytest.mark.parametrize(
    ("cell", "word"), [("1", "male"), ("2", "female"), ("0", "not recorded"), ("9", "not recorded"), ("male", "male")]
)
def test_a_sex_may_be_a_digit_of_iso_iec_5218(cell, word, tmp_path):
    """ISO/IEC 5218: 0 not known, 1 male, 2 female, 9 not applicable."""
    register = begun(tmp_path)
    register.operations("2005-01-15", [primary(NUMBER, 1, "2004-03-01", sex=cell)])
    receive(tmp_path / "store", [tmp_path / "in"])
    assert asked(tmp_path / "store" / "registry.duckdb", "select sex from operations") == [(word,)]


@pytest.mark.parametrize(
    ("cell", "year"),
    [("1950", 1950), ("1950-07", 1950), ("1950-13", None), ("1950-7", None), ("50", None), ("1950-07-01", None)],
)
def test_a_birth_may_be_a_year_or_a_month_of_iso_8601(cell, year, tmp_path):
    register = begun(tmp_path)
    register.operations("2005-01-15", [primary(NUMBER, 1, "2004-03-01", birth_year=cell)])
    receipt = receive(tmp_path / "store", [tmp_path / "in"])
    assert asked(tmp_path / "store" / "registry.duckdb", "select birth_year from operations") == [(year,)]
    assert receipt.total("held") > 0 if year is None else receipt.total("held") == 0


def test_every_column_of_the_dictionary_is_in_the_store(tmp_path):
    register = begun(tmp_path)
    receive(tmp_path / "store", [register.deaths("2005-01-15", {1: "2004-09-01"})])
    kept = {"reasons": "revision_reasons", "pairs": "catalogue_pairs", "systems": "hospital_systems"}
    named = {"constraint": "constraint_design"}
    query = "select table_name, column_name from duckdb_columns() where not internal"
    columns = set(asked(tmp_path / "store" / "registry.duckdb", query))
    for table, schema in SCHEMAS.items():
        own = {"operation_id"} if table in ("components", "reasons") else set()  # they belong to a version of it
        for column in set(schema.columns) - own:
            assert (kept.get(table, table), named.get(column, column)) in columns
