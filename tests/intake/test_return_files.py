"""
What goes back to a hospital is what it sent, with reasons, and can be sent again.

That a spreadsheet takes cells beginning with = + - @, a tab or a carriage return for formulas, and that an apostrophe
in front keeps it from that, is the published advice on such injection (OWASP, "CSV Injection"; from memory). The
rest is common practice, no published source.
"""

import csv
import json
from pathlib import Path

import duckdb
import pytest
from hypothesis import given
from hypothesis import strategies as st

from regdash.dictionary import TABLES
from regdash.errors import FilterError, InputError
from regdash.intake.pseudonyms import new_key, read_key
from regdash.intake.receive import receive
from regdash.intake.return_files import write_return_files
from regdash.intake.returned import COLUMN, guarded, unguarded
from tests.intake.small_register import SmallRegister, primary, revision, total_knee

FORMULAS = ("=1+1", "+1", "-5", "@sum", "\tx", "'=1", "''-1")
READY = ("to-correct", "to-check")


@pytest.fixture
def register(tmp_path: Path) -> SmallRegister:
    """One hospital with a row for each end: held, rejected, warned and good; cells in spellings of its own."""
    register = SmallRegister(tmp_path / "in")
    register.catalogue()
    register.units()
    rows = [
        primary("H001-0000001", 1, "2004-01-05", side="", sex="2", compartment="not-applicable"),
        primary("H001-0000002", 2, "2004-13-05", bmi="28.50", approach="=cmd()"),
        primary("H001-0000003", 3, "2004-10-05", asa=""),
        primary("H001-0000004", 4, "2004-10-05"),
    ]
    parts = [line for row in rows for line in total_knee(row["operation_id"])]
    parts[0] |= {"lot": "@lot-1"}
    register.operations("2005-04-15", rows, parts)
    register.operations("2005-04-15", [revision("H002-0000001", 4, "2005-01-05", sex="9")], hospital="H002")
    receive(tmp_path / "store", [tmp_path / "in"])
    return register


def read(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as text:
        return list(csv.DictReader(text, strict=True))


def sent(register: SmallRegister, table: str) -> dict[tuple[str, ...], list[str]]:
    """Cells of each row as the hospital wrote it, by the number of its operation and line."""
    rows = read(register.folder / "H001-0001" / f"{table}.csv")
    return {(row["operation_id"], row.get("line_no", "")): list(row.values()) for row in rows}


@pytest.mark.parametrize("table", ["operations", "components"])
def test_every_returned_row_is_cell_by_cell_what_was_sent(register, tmp_path, table):
    write_return_files(tmp_path / "store", tmp_path / "out", "H001")
    rows = [row for name in READY for row in read(tmp_path / "out" / "H001" / name / f"{table}.csv")]
    assert {row["operation_id"] for row in rows} == {"H001-0000001", "H001-0000002", "H001-0000003"}
    before = sent(register, table)
    for row in rows:
        assert list(row) == [*TABLES[table], COLUMN]
        cells = [unguarded(cell) for cell in list(row.values())[:-1]]
        assert cells == before[row["operation_id"], row.get("line_no", "")]
        assert not any(cell.startswith(tuple("=+-@\t\r")) for cell in row.values())


def test_rows_to_correct_and_rows_to_check_stand_apart_with_their_reasons(register, tmp_path):
    [h001] = write_return_files(tmp_path / "store", tmp_path / "out", "H001")
    told = {
        name: {row["operation_id"]: row[COLUMN] for row in read(h001.folder / name / "operations.csv")}
        for name in READY
    }
    assert set(told["to-correct"]) == {"H001-0000001", "H001-0000002"}
    assert "side is missing" in told["to-correct"]["H001-0000001"]
    assert "It said 2004-13-05." in told["to-correct"]["H001-0000002"]
    assert told["to-check"] == {"H001-0000003": "The ASA class is missing."}
    assert (h001.to_correct, h001.to_check) == (8, 1)  # two operations with three components each; one operation
    assert "apostrophe" in (h001.folder / "README.txt").read_text()


def test_a_corrected_return_file_is_a_submission_and_the_old_version_is_kept(register, tmp_path):
    [h001] = write_return_files(tmp_path / "store", tmp_path / "out", "H001")
    folder = h001.folder / "to-correct"
    with pytest.raises(InputError, match="received_date"):
        receive(tmp_path / "store", [folder])
    envelope = json.loads((folder / "envelope.json").read_text()) | {"received_date": "2005-05-01"}
    (folder / "envelope.json").write_text(json.dumps(envelope))
    text = (folder / "operations.csv").read_text(encoding="utf-8")
    text = text.replace("2004-13-05", "2004-12-05").replace("knee,,2004-01-05", "knee,left,2004-01-05")
    text = text.replace("'=cmd()", "medial-parapatellar")
    (folder / "operations.csv").write_text("\ufeff" + text, encoding="utf-8")  # as spreadsheets save it
    receipt = receive(tmp_path / "store", [folder])
    assert receipt.total("accepted") == receipt.total("received") == 8
    with duckdb.connect(str(tmp_path / "store" / "registry.duckdb"), read_only=True) as store:
        versions = store.execute(
            "select side, known_to from operations where operation_id = 'H001-0000001' order by version_no"
        ).fetchall()
        assert [side for side, _ in versions] == [None, "left"]
        assert [known_to is None for _, known_to in versions] == [False, True]
        lots = store.execute("select distinct lot from components where line_no = 1 and lot like '@%'").fetchall()
        assert lots == [("@lot-1",)]
        left = store.execute("select table_name, record_id, rule from held_rows where hospital_id = 'H001'").fetchall()
    assert left == []


def test_an_unchanged_return_file_is_known_already_and_nothing_else(register, tmp_path):
    [h001] = write_return_files(tmp_path / "store", tmp_path / "out", "H001")
    folder = h001.folder / "to-check"
    envelope = json.loads((folder / "envelope.json").read_text()) | {"received_date": "2005-05-01"}
    (folder / "envelope.json").write_text(json.dumps(envelope))
    receipt = receive(tmp_path / "store", [folder])
    assert receipt.total("known_already") == receipt.total("received") == 4


def test_what_a_row_of_a_pseudonym_that_is_none_said_is_kept_nowhere(tmp_path):
    register = SmallRegister(tmp_path / "in")
    register.catalogue()
    register.units()
    register.operations("2005-04-15", [primary("H001-0000001", 1, "2004-01-05", patient_id="1951-04-05-123")])
    receive(tmp_path / "store", [tmp_path / "in"])
    write_return_files(tmp_path / "store", tmp_path / "out")
    for path in [*(tmp_path / "out").rglob("*.*"), tmp_path / "store" / "registry.duckdb"]:
        assert path.is_dir() or b"1951-04-05-123" not in path.read_bytes()


def test_old_files_are_never_mixed_with_new_ones_and_unknown_hospitals_are_named(register, tmp_path):
    (tmp_path / "old").mkdir()
    (tmp_path / "old" / "x").touch()
    with pytest.raises(InputError, match="not an empty folder"):
        write_return_files(tmp_path / "store", tmp_path / "old")
    with pytest.raises(FilterError, match="H001"):
        write_return_files(tmp_path / "store", tmp_path / "out", "H011")


@given(st.text() | st.sampled_from(FORMULAS))
def test_a_guarded_cell_is_no_formula_and_is_read_back_as_it_was(cell):
    assert unguarded(guarded(cell)) == cell
    assert not guarded(cell).startswith(tuple("=+-@\t\r"))


@pytest.mark.slow  # three receives
def test_a_hospital_with_numbers_of_its_own_corrects_under_pseudonyms_and_its_patient_stays_the_same(tmp_path):
    key = tmp_path / "key"
    new_key(key)
    register = SmallRegister(tmp_path / "in")
    register.catalogue()
    register.units()
    folder = register.operations("2005-04-15", [primary("H001-0000001", 1, "2004-01-05", side="", patient_id="77-12")])
    envelope = json.loads((folder / "envelope.json").read_text()) | {"patient_numbers": "own"}
    (folder / "envelope.json").write_text(json.dumps(envelope))
    receive(tmp_path / "store", [tmp_path / "in"], pseudonyms=read_key(key))
    [h001] = write_return_files(tmp_path / "store", tmp_path / "out")
    folder = h001.folder / "to-correct"
    text = (folder / "operations.csv").read_text(encoding="utf-8")
    assert "77-12" not in text
    (folder / "operations.csv").write_text(text.replace("knee,,2004", "knee,left,2004"), encoding="utf-8")
    envelope = json.loads((folder / "envelope.json").read_text()) | {"received_date": "2005-05-01"}
    (folder / "envelope.json").write_text(json.dumps(envelope))
    assert receive(tmp_path / "store", [folder]).total("accepted") == 4
    with duckdb.connect(str(tmp_path / "store" / "registry.duckdb"), read_only=True) as store:
        patients = store.execute("select distinct patient_id from operations").fetchall()
    assert len(patients) == 1
