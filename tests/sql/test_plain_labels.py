"""Labels of the plain form, which intake does not take apart: nothing is wrong with any of them."""

import duckdb
import pytest
from hypothesis import given
from hypothesis import strategies as st

from regdash.store.run import run
from regdash.udi import UDI, read_label
from tests.labels import labels


@pytest.fixture(scope="module")
def connection() -> duckdb.DuckDBPyConnection:
    made = duckdb.connect(config={"threads": "1"})
    made.execute("create table placed_components (udi_text varchar, known_from date)")
    run(made, "intake/udi")
    run(made, "intake/labels")
    return made


def is_plain(connection: duckdb.DuckDBPyConnection, label: str) -> bool:
    return bool(connection.execute("select label_is_plain(?)", [label]).fetchall()[0][0])


@pytest.mark.slow  # many labels
@given(st.lists(labels(), min_size=1, max_size=20))
def test_nothing_is_wrong_with_a_plain_label(connection, made):
    for label in made:
        if is_plain(connection, label):
            assert isinstance(read_label(label, 2020), UDI)


@pytest.mark.parametrize(
    ("label", "plain"),
    [
        ("(01)09506000134352(17)141120(10)AB12(21)S1", True),  # GS1 General Specifications' example GTIN
        ("01095060001343521714112010AB12\x1d21S1", True),
        ("(01)09506000134353(17)141120", False),  # another check digit
        ("(01)09506000134352(17)141331", False),  # no such month
        ("(01)09506000134352(10)", False),
        ("+A123BJC5D6E71G", False),
    ],
)
def test_the_plain_form(connection, label, plain):
    assert is_plain(connection, label) == plain
    if plain:
        assert isinstance(read_label(label, 2020), UDI)
