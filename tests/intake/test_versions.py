"""
Late rows and corrections: the higher sequence wins, every version is kept, and what is said again is known already.
"""

from pathlib import Path
from typing import Any

import duckdb
import pytest

from regdash.intake.receive import Receipt, receive
from tests.intake.small_register import SmallRegister, component, primary, revision, total_knee


def rows_of(store: Path, query: str) -> list[tuple[Any, ...]]:
    with duckdb.connect(str(store / "registry.duckdb"), read_only=True) as connection:
        return connection.execute(query).fetchall()


def versions(store: Path) -> list[tuple[Any, ...]]:
    query = """
        select s.sequence, o.bmi::double, o.known_from::varchar, o.known_to::varchar, o.repeats
        from operations as o join submissions as s on s.submission_no = o.submission_no
        where s.kind = 'operations' order by s.sequence
    """
    return rows_of(store, query)


def ends(receipt: Receipt, submission: str, table: str = "operations") -> tuple[int, int, int, int]:
    file = next(file for file in receipt.files if (file.submission, file.table) == (submission, table))
    return (file.accepted, file.held, file.rejected, file.known_already)


def begun(tmp_path: Path) -> SmallRegister:
    register = SmallRegister(tmp_path / "in")
    register.catalogue()
    register.units()
    return register


def test_a_correction_replaces_a_version_and_keeps_it(tmp_path):
    register = begun(tmp_path)
    register.operations("2005-01-15", [primary("H001-0000001", 1, "2004-12-01", bmi="28.5")])
    register.operations("2005-04-15", [primary("H001-0000001", 1, "2004-12-01", bmi="31.0")])
    receipt = receive(tmp_path / "store", [tmp_path / "in"])
    assert versions(tmp_path / "store") == [
        (1, 28.5, "2005-01-15", "2005-04-15", False),
        (2, 31.0, "2005-04-15", None, False),
    ]
    assert ends(receipt, "H001-0001") == (1, 0, 0, 0)
    assert ends(receipt, "H001-0002") == (1, 0, 0, 0)


def test_a_changed_component_alone_is_a_correction_of_its_operation(tmp_path):
    register = begun(tmp_path)
    row = primary("H001-0000001", 1, "2004-12-01")
    register.operations("2005-01-15", [row])
    register.operations("2005-04-15", [row], [*total_knee("H001-0000001")[:2]])
    receive(tmp_path / "store", [tmp_path / "in"])
    assert [standing[2:] for standing in versions(tmp_path / "store")] == [
        ("2005-01-15", "2005-04-15", False),
        ("2005-04-15", None, False),
    ]


def test_rows_sent_again_are_known_already_and_no_new_version(tmp_path):
    register = begun(tmp_path)
    row = primary("H001-0000001", 1, "2004-12-01")
    register.operations("2005-01-15", [row])
    register.operations("2005-04-15", [row, primary("H001-0000002", 2, "2005-01-20")])
    receipt = receive(tmp_path / "store", [tmp_path / "in"])
    assert ends(receipt, "H001-0002") == (1, 0, 0, 1)
    assert ends(receipt, "H001-0002", "components") == (3, 0, 0, 3)
    standing = rows_of(tmp_path / "store", "select known_from::varchar from operations where not repeats order by all")
    assert standing == [("2005-01-15",), ("2005-04-15",)]


def test_the_higher_sequence_wins_though_it_was_received_first(tmp_path):
    """A submission can be held up in the post; the sender's own order counts."""
    register = begun(tmp_path)
    register.operations("2005-06-15", [primary("H001-0000001", 1, "2004-12-01", bmi="28.5")], sequence=1)
    register.operations("2005-04-15", [primary("H001-0000001", 1, "2004-12-01", bmi="31.0")], sequence=2)
    receive(tmp_path / "store", [tmp_path / "in"])
    assert versions(tmp_path / "store") == [
        (1, 28.5, "2005-06-15", "2005-06-15", False),
        (2, 31.0, "2005-04-15", None, False),
    ]


@pytest.mark.slow  # three receives
def test_a_late_version_in_between_makes_the_one_after_it_a_correction(tmp_path):
    register = begun(tmp_path)
    first = register.operations("2005-01-15", [primary("H001-0000001", 1, "2004-12-01", bmi="28.5")], sequence=1)
    third = register.operations("2005-07-15", [primary("H001-0000001", 1, "2004-12-01", bmi="28.5")], sequence=3)
    second = register.operations("2005-08-15", [primary("H001-0000001", 1, "2004-12-01", bmi="31.0")], sequence=2)
    feeds = [tmp_path / "in" / "catalogue-0001", tmp_path / "in" / "units-0001"]
    receive(tmp_path / "store", [*feeds, first, third])
    assert [row[4] for row in versions(tmp_path / "store")] == [False, True]
    receive(tmp_path / "store", [second])
    assert versions(tmp_path / "store") == [
        (1, 28.5, "2005-01-15", "2005-08-15", False),
        (2, 31.0, "2005-08-15", "2005-08-15", False),
        (3, 28.5, "2005-07-15", None, False),
    ]


def test_a_rejected_correction_leaves_the_version_before_it_standing(tmp_path):
    register = begun(tmp_path)
    register.operations("2005-01-15", [primary("H001-0000001", 1, "2004-12-01")])
    register.operations("2005-04-15", [primary("H001-0000001", 1, "2004-12-32")])
    receipt = receive(tmp_path / "store", [tmp_path / "in"])
    assert ends(receipt, "H001-0002") == (0, 0, 1, 0)
    assert ends(receipt, "H001-0002", "components") == (0, 0, 3, 0)
    assert versions(tmp_path / "store") == [(1, 28.5, "2005-01-15", None, False)]


@pytest.mark.slow  # three receives
def test_a_held_row_is_no_longer_listed_once_it_is_corrected(tmp_path):
    register = begun(tmp_path)
    first = register.operations("2005-01-15", [primary("H001-0000001", 1, "2004-12-01", side="")])
    second = register.operations("2005-04-15", [primary("H001-0000001", 1, "2004-12-01")])
    feeds = [tmp_path / "in" / "catalogue-0001", tmp_path / "in" / "units-0001"]
    receive(tmp_path / "store", [*feeds, first])
    held = "select distinct rule from held_rows order by rule"
    assert rows_of(tmp_path / "store", held) == [("operation-held",), ("side-missing",)]
    receive(tmp_path / "store", [second])
    assert rows_of(tmp_path / "store", held) == []
    counts = "select held from submission_files where table_name = 'operations' order by submission_no"
    assert rows_of(tmp_path / "store", counts) == [(1,), (0,)]


def test_a_rejected_row_is_no_longer_listed_once_its_record_came_in_well_formed(tmp_path):
    register = begun(tmp_path)
    register.operations("2005-01-15", [primary("H001-0000001", 1, "2004-12-32")], [])
    register.operations("2005-04-15", [primary("H001-0000001", 1, "2004-12-01")])
    receive(tmp_path / "store", [tmp_path / "in"])
    assert rows_of(tmp_path / "store", "from held_rows") == []


@pytest.mark.slow  # three receives
def test_a_held_component_is_counted_once_the_catalogue_knows_it(tmp_path):
    register = begun(tmp_path)
    row = primary("H001-0000001", 1, "2004-12-01")
    parts = [*total_knee("H001-0000001"), component("H001-0000001", 4, "stem", "KS009-1A")]
    register.operations("2005-01-15", [row], parts)
    store = tmp_path / "store"
    receipt = receive(store, [tmp_path / "in"])
    assert ends(receipt, "H001-0001") == (1, 0, 0, 0)
    assert ends(receipt, "H001-0001", "components") == (3, 1, 0, 0)
    stem = {"catalogue_no": "KS009-1A", "maker": "M01", "implant": "KS-009", "role": "stem", "joint": "knee"}
    receive(store, [register.submit("catalogue", "2005-02-01", {"catalogue": [stem]})])
    assert rows_of(store, "from held_rows") == []
    counts = "select accepted, held from submission_files where table_name = 'components'"
    assert rows_of(store, counts) == [(4, 0)]


def test_an_entry_of_the_catalogue_is_corrected_as_an_operation_is(tmp_path):
    register = begun(tmp_path)
    stem = {"catalogue_no": "KS009-1A", "maker": "M01", "implant": "KS-009", "role": "stem", "joint": "knee"}
    register.submit("catalogue", "2005-02-01", {"catalogue": [stem]})
    register.submit("catalogue", "2005-03-01", {"catalogue": [stem]})
    register.submit("catalogue", "2005-04-01", {"catalogue": [stem | {"size": "4"}]})
    receive(tmp_path / "store", [tmp_path / "in"])
    query = """
        select known_from::varchar, known_to::varchar, repeats from catalogue
        where catalogue_no = 'KS009-1A' order by known_from
    """
    assert rows_of(tmp_path / "store", query) == [
        ("2005-02-01", "2005-04-01", False),
        ("2005-03-01", "2005-03-01", True),
        ("2005-04-01", None, False),
    ]


def test_one_operation_under_two_numbers_is_counted_once_as_first_received(tmp_path):
    register = begun(tmp_path)
    register.operations("2005-01-15", [primary("H001-0000009", 1, "2004-12-01")])
    register.operations("2005-04-15", [primary("H001-0000001", 1, "2004-12-01")])
    receipt = receive(tmp_path / "store", [tmp_path / "in"])
    assert ends(receipt, "H001-0001") == (1, 0, 0, 0)
    assert ends(receipt, "H001-0002") == (0, 0, 0, 1)
    query = "select record_id, value from noted_rows where rule = 'submitted-twice'"
    assert rows_of(tmp_path / "store", query) == [("H001-0000001", "H001-0000009")]


def test_a_revision_sent_under_two_numbers_holds_nothing_back(tmp_path):
    register = begun(tmp_path)
    rows = [primary("H001-0000001", 1, "2004-12-01"), revision("H001-0000002", 1, "2006-12-01")]
    register.operations("2007-01-15", [*rows, revision("H001-0000003", 1, "2006-12-01")])
    receive(tmp_path / "store", [tmp_path / "in"])
    assert rows_of(tmp_path / "store", "from held_rows") == []
    assert rows_of(tmp_path / "store", "select operation_id from links") == [("H001-0000002",)]
