"""Labels in bulk: the database reads each as regdash/udi.py does."""

from datetime import date

import duckdb
import pytest
from hypothesis import given
from hypothesis import strategies as st

from regdash.store.run import run
from regdash.store.sqlfiles import sql_file
from regdash.udi import UDI, gtin14, read_label
from tests.labels import gtins, labels

Read = tuple[str | None, str | None, date | None, date | None, str | None, str | None]


@pytest.fixture(scope="module")
def connection() -> duckdb.DuckDBPyConnection:
    connection = duckdb.connect(config={"threads": "1"})
    run(connection, "intake/udi")
    return connection


def in_python(raw: str, year: int) -> Read:
    label = read_label(raw, year)
    if isinstance(label, UDI):
        return None, label.gtin, label.expiry_date, label.made_date, label.lot, label.serial
    return label.fault, None, None, None, None, None


def in_sql(connection: duckdb.DuckDBPyConnection, sent: list[tuple[str, int]]) -> dict[tuple[str, int], Read]:
    connection.execute("create or replace temp table sent (raw varchar, seen integer)")
    connection.executemany("insert into sent values (?, ?)", sent)
    run(connection, "intake/read_labels", source="sent")
    rows = connection.execute(
        "select raw, seen, fault, gtin, expiry_date, made_date, lot, serial from labels_read"
    ).fetchall()
    return {(raw, seen): tuple(rest) for raw, seen, *rest in rows}


@given(st.lists(st.tuples(labels(), st.integers(1990, 2060)), min_size=1, max_size=20))
def test_the_database_and_python_read_a_label_alike(
    connection: duckdb.DuckDBPyConnection, sent: list[tuple[str, int]]
) -> None:
    assert in_sql(connection, sent) == {(raw, year): in_python(raw, year) for raw, year in sent}


@given(st.lists(st.one_of(gtins(), st.text("0123456789x", max_size=15)), min_size=1, max_size=20))
def test_the_database_and_python_pad_a_gtin_alike(connection: duckdb.DuckDBPyConnection, sent: list[str]) -> None:
    padded = connection.execute(
        "select gtin14(digits) from (select unnest($sent) as digits)", {"sent": sent}
    ).fetchall()
    assert padded == [(gtin14(digits),) for digits in sent]


def test_the_columns_of_labels_read_are_those_of_the_header(connection: duckdb.DuckDBPyConnection) -> None:
    in_sql(connection, [("", 2024)])
    described = connection.execute("describe labels_read").fetchall()
    assert [(name, kind.lower()) for name, kind, *_ in described] == list(sql_file("intake/read_labels").columns)
