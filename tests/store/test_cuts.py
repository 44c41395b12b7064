"""Data cuts are found by name, opened read-only and shut in; whatever is wrong with one is a single sentence."""

import json
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import duckdb
import pytest

from regdash.errors import StoreError
from regdash.store.cuts import LAYOUT, Cut, cut_path, find_cut
from regdash.store.words import CLASSES
from tests.cuts import NAME, joint, make_cut


def test_a_store_without_cuts_says_how_to_make_one(tmp_path: Path) -> None:
    with pytest.raises(StoreError, match=r"There is no data cut in .*\. Make one with: regdash freeze"):
        find_cut(tmp_path)


def test_a_through_date_finds_its_newest_cut(tmp_path: Path) -> None:
    for number in (1, 2, 10):
        make_cut(tmp_path, [joint()], name=f"2023-12-31.{number}")
    make_cut(tmp_path, [joint()], name="2024-12-31.1")
    assert find_cut(tmp_path, "2023-12-31").cut == "2023-12-31.10"
    assert find_cut(tmp_path, "2023-12-31.2").cut == "2023-12-31.2"
    assert find_cut(tmp_path).cut == "2024-12-31.1"


def test_an_unknown_cut_is_refused_with_those_there_are(tmp_path: Path) -> None:
    make_cut(tmp_path, [joint()])
    with pytest.raises(StoreError, match=r"There is no data cut 2020-01-01 .* The newest are: 2024-12-31\.1"):
        find_cut(tmp_path, "2020-01-01")


@pytest.mark.parametrize("text", ["", "{", "[]", '{"cut": "2024-12-31.1"}'])
def test_a_damaged_manifest_is_one_sentence(tmp_path: Path, text: str) -> None:
    make_cut(tmp_path, [joint()])
    cut_path(tmp_path, NAME).with_suffix(".json").write_text(text, encoding="utf-8")
    with pytest.raises(StoreError, match=r"^The manifest .* cannot be read: "):
        Cut(tmp_path)


@pytest.mark.parametrize(
    ("layout", "told"),
    [
        (
            LAYOUT - 1,
            rf"layout {LAYOUT - 1}, of an older release; .* Make it again with: regdash freeze --through 2024",
        ),
        (LAYOUT + 1, rf"layout {LAYOUT + 1}, of a newer release; this one reads layout {LAYOUT}\. Update the program"),
    ],
)
def test_a_cut_of_another_layout_is_refused_with_what_to_do(tmp_path: Path, layout: int, told: str) -> None:
    make_cut(tmp_path, [joint()])
    path = cut_path(tmp_path, NAME).with_suffix(".json")
    path.write_text(replace(find_cut(tmp_path), layout=layout).to_json(), encoding="utf-8")
    with pytest.raises(StoreError, match=told):
        Cut(tmp_path)


def test_a_cut_that_says_no_layout_is_of_the_first(tmp_path: Path) -> None:
    make_cut(tmp_path, [joint()])
    path = cut_path(tmp_path, NAME).with_suffix(".json")
    written = json.loads(path.read_text(encoding="utf-8"))
    del written["layout"]
    path.write_text(json.dumps(written), encoding="utf-8")
    assert find_cut(tmp_path).layout == 1


def test_a_missing_file_and_one_that_is_no_database_are_one_sentence(tmp_path: Path) -> None:
    make_cut(tmp_path, [joint()])
    cut_path(tmp_path, NAME).write_text("no database", encoding="utf-8")
    with pytest.raises(StoreError, match=r"^The data cut .* cannot be opened: "):
        Cut(tmp_path)
    cut_path(tmp_path, NAME).unlink()
    with pytest.raises(StoreError, match="is listed but its file is missing"):
        Cut(tmp_path)


def test_a_cut_cannot_be_written_nor_other_files_read(tmp_path: Path) -> None:
    cut = Cut(make_cut(tmp_path, [joint()]))
    (tmp_path / "other.csv").write_text("a\n1\n", encoding="utf-8")
    with pytest.raises(duckdb.InvalidInputException, match="read-only"):
        cut.rows("delete from follow_up")
    with pytest.raises(duckdb.PermissionException):
        cut.rows(f"from read_csv('{tmp_path / 'other.csv'}')")


def test_any_number_of_processes_read_one_cut(tmp_path: Path) -> None:
    """DuckDB lets many processes read or one write; a cut is only ever read."""
    cut = Cut(make_cut(tmp_path, [joint()] * 7))
    assert cut.rows("select count(*) from follow_up") == [(7,)]
    ask = (
        "import sys, pathlib; from regdash.store.cuts import Cut; "
        "print(Cut(pathlib.Path(sys.argv[1])).rows('select count(*) from follow_up')[0][0])"
    )
    other = subprocess.run([sys.executable, "-c", ask, str(tmp_path)], capture_output=True, text=True, check=True)
    assert other.stdout.strip() == "7"


def test_words_of_a_cut_come_in_the_order_of_their_numbers(tmp_path: Path) -> None:
    cut = Cut(make_cut(tmp_path, [joint(hospital_id="H002"), joint(hospital_id="H001")]))
    assert cut.known["hospital"] == ("H001", "H002", "not recorded")
    assert cut.words["class_words"] == CLASSES
    assert cut.rows("select enum_code(hospital_id) from follow_up order by joint_no") == [(1,), (0,)]
