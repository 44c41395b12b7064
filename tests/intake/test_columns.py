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
from tests.intake.small_register import SmallRegister, component, patient, primary, reason, revision

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


def test_a_version_that_differs_in_one_column_is_a_new_version(tmp_path):
    """Each column changes in a record of its own, and stays so when it is sent once more."""
    register = begun(tmp_path)
    columns = [(table, name) for table, names in NEW.items() for name in names]
    sent = {"2005-01-15": [], "2005-04-15": [], "2005-07-15": []}
    for number, (table, column) in enumerate(columns, 1):
        own = {"operation_id": f"H001-{number:07d}"}
        # Each patient and each serial number is one of its own, so that no rule on several records holds any of them.
        unlike = {"patient_id": patient(number)}, {"serial": f"S{number}00"}, {}
        first = {
            name: row | own | other
            for (name, row), other in zip(
                {"operations": OPERATION, "components": PART, "reasons": REASON}.items(), unlike, strict=True
            )
        }
        second = first | {table: first[table] | {column: OTHER[column]}}
        for received, rows in zip(sent, (first, second, second), strict=True):
            sent[received].append(rows)
    for received, records in sent.items():
        register.operations(received, *([rows[table] for rows in records] for table in NEW))
    receive(tmp_path / "store", [tmp_path / "in"])
    query = "select operation_id, known_from::varchar, known_to::varchar, repeats from operations order by all"
    assert asked(tmp_path / "store" / "registry.duckdb", query) == [
        (f"H001-{number:07d}", *version)
        for number in range(1, len(columns) + 1)
        for version in (
            ("2005-01-15", "2005-04-15", False),
            ("2005-04-15", None, False),
            ("2005-07-15", "2005-07-15", True),
        )
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
KEYS = {"catalogue": "catalogue_no", "pairs": "implant", "systems": "technology_system"}
TABLES = {"catalogue": "catalogue", "pairs": "catalogue_pairs", "systems": "hospital_systems"}


def test_a_record_of_a_feed_that_differs_in_one_column_is_a_new_version(tmp_path):
    register = SmallRegister(tmp_path / "in")
    receipts = ("2003-01-01", "2004-01-01", "2005-01-01")
    count = {table: sum(changed == table for changed, *_ in CHANGED) for table in FEEDS}
    for kind, tables in (("catalogue", ("catalogue", "pairs")), ("units", ("systems",))):
        first, second = {}, {}
        for number, (table, column, other) in enumerate(CHANGED):
            row = FEEDS[table] | {KEYS[table]: f"{FEEDS[table][KEYS[table]]}-{number}"}
            first.setdefault(table, []).append(row)
            second.setdefault(table, []).append(row | {column: other})
        for received, said in zip(receipts, (first, second, second), strict=True):
            register.submit(kind, received, {table: said[table] for table in tables})
    receipt = receive(tmp_path / "store", [tmp_path / "in"])
    versions = [("2003-01-01", "2004-01-01", False), ("2004-01-01", None, False), ("2005-01-01", "2005-01-01", True)]
    for table, records in count.items():
        query = f"select known_from::varchar, known_to::varchar, repeats from {TABLES[table]} order by all"
        assert asked(tmp_path / "store" / "registry.duckdb", query) == [one for one in versions for _ in range(records)]
        ends = [(f.accepted, f.known_already) for f in receipt.files if f.table == table]
        assert ends == [(records, 0), (records, 0), (0, records)]


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


def numbered(cells, column):
    """One primary of a patient of its own for each cell."""
    return [primary(f"H001-{n}", n, "2004-03-01", **{column: cell}) for n, cell in enumerate(cells, 1)]


def test_a_sex_may_be_a_digit_of_iso_iec_5218(tmp_path):
    """ISO/IEC 5218: 0 not known, 1 male, 2 female, 9 not applicable."""
    words = {"1": "male", "2": "female", "0": "not recorded", "9": "not recorded", "male": "male"}
    register = begun(tmp_path)
    register.operations("2005-01-15", numbered(words, "sex"))
    receive(tmp_path / "store", [tmp_path / "in"])
    query = "select sex from operations order by operation_id"
    assert asked(tmp_path / "store" / "registry.duckdb", query) == [(word,) for word in words.values()]


def test_a_birth_may_be_a_year_or_a_month_of_iso_8601(tmp_path):
    years = {"1950": 1950, "1950-07": 1950, "1950-13": None, "1950-7": None, "50": None, "1950-07-01": None}
    register = begun(tmp_path)
    register.operations("2005-01-15", numbered(years, "birth_year"))
    receive(tmp_path / "store", [tmp_path / "in"])
    store = tmp_path / "store" / "registry.duckdb"
    query = "select birth_year from operations order by operation_id"
    assert asked(store, query) == [(year,) for year in years.values()]
    query = "select distinct record_id from held_rows where table_name = 'operations' order by record_id"
    assert asked(store, query) == [(f"H001-{n}",) for n, year in enumerate(years.values(), 1) if year is None]


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
