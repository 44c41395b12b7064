"""What is held back: the queries' headers are true, and a cut and its store tell the same."""

from datetime import date
from pathlib import Path

import duckdb
import pytest

from regdash.intake.receive import receive
from regdash.store.cuts import cut_path
from regdash.store.freeze import freeze
from regdash.store.held import HeldRow, held_in_cut, held_now
from regdash.store.sqlfiles import sql_file
from tests.intake.small_register import SmallRegister, primary


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """One primary that counts, one without a side, one of an age that nobody has."""
    folder = tmp_path_factory.mktemp("register")
    register = SmallRegister(folder / "inbox")
    register.catalogue()
    register.units()
    rows = [
        primary("H001-0000001", 1, "2020-01-10"),
        primary("H001-0000002", 2, "2020-01-11", side=""),
        primary("H001-0000003", 3, "2020-01-12", birth_year="1880"),
    ]
    register.operations("2020-04-10", rows, components=[])
    receive(folder / "store", [folder / "inbox"])
    freeze(folder / "store", date(2020, 3, 31))
    return folder / "store"


def test_a_held_row_says_where_it_stands_and_what_it_said(store):
    name, rows = held_in_cut(store, rule="birth-year-implausible")
    assert name == "2020-03-31.1"
    (row,) = rows
    assert (row.submission, row.hospital, row.row, row.record) == ("H001-0001", "H001", "operations:3", "H001-0000003")
    assert row.text.endswith("Record H001-0000003, which said 1880.")


def test_where_the_row_said_nothing_nothing_is_quoted():
    row = HeldRow(
        "H001-0001", "H001", "operations:2", "side-missing", "hold", "The side is missing.", "H001-0000002", None
    )
    assert row.text == "The side is missing. Record H001-0000002."


def test_a_cut_and_its_store_tell_the_same(store):
    assert held_in_cut(store)[1] == held_now(store)
    assert {row.rule for row in held_now(store)} >= {"side-missing", "birth-year-implausible"}


@pytest.mark.parametrize("query", ["held_rows", "held_senders"])
def test_the_header_of_a_query_is_true(query, store):
    file = sql_file(f"queries/{query}")
    text = file.query.replace("$hospital", "null").replace("$rule", "null")
    with duckdb.connect(str(cut_path(store, "2020-03-31.1")), read_only=True) as connection:
        described = [(name, kind.lower()) for name, kind, *_ in connection.execute(f"describe {text}").fetchall()]
        read = {table.rsplit(".", 1)[-1] for table in connection.get_table_names(text, qualified=True)}
    assert described == list(file.columns)
    assert read == set(file.listed("reads"))
