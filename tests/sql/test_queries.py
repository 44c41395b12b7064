"""The queries of reports: what their headers promise is what the database gives back."""

from pathlib import Path

import duckdb
import pytest

from regdash.store.cuts import cut_path
from regdash.store.sqlfiles import SqlFile, sql_file, sql_folder, statement
from tests.cuts import NAME, make_cut, random_joints

# Stand-ins for what reports put in.
PARTS = {
    "grouping": "",
    "predicate": "true",
    "reason": "reason_group",
    "no_reason": "12",
    "treatment": "case when septic then 1 when bearing_only then 3 else 0 end",
    "competing": "1",
    "which": "true",
    "unit": "used.size",
    "order": "1",
    "value": "size",
}
VALUES = {"implant": "KF-001", "joint_id": "P1-KL", "joint_no": 1, "most": 10, "skipped": 0, "role": "tibial"}
VALUES |= {"first_joint": 0, "end_joint": 9}
VALUES |= {"senders": ["H001"], "others": [], "rule": "side-missing", "table": "operations"}
QUERIES = [
    "component_value_counts",
    "describe",
    "endpoint_counts",
    "enum_words",
    "event_rows",
    "finding_rows",
    "findings",
    "held_revisions",
    "held_revisions_all",
    "implant_users",
    "implants",
    "joint_components",
    "joint_facts",
    "joint_held",
    "joint_revisions",
    "joints",
    "linked_revisions",
    "patients",
    "received",
    "re_revision_counts",
    "removal_counts",
]


@pytest.fixture(scope="module")
def connection(tmp_path_factory: pytest.TempPathFactory) -> duckdb.DuckDBPyConnection:
    store = make_cut(tmp_path_factory.mktemp("store"), random_joints(200, seed=61))
    return duckdb.connect(str(cut_path(store, NAME)), read_only=True)


def filled(query: SqlFile) -> str:
    text = statement(f"queries/{query.name}", **{part: PARTS[part] for part in query.listed("needs")})
    # A description is asked for without values, so they are written in.
    for name, value in VALUES.items():
        text = text.replace(f"${name}", repr(value))
    return text


@pytest.mark.parametrize("name", QUERIES)
def test_a_header_promises_the_columns_that_come(name: str, connection: duckdb.DuckDBPyConnection) -> None:
    query = sql_file(f"queries/{name}")
    described = connection.execute(f"describe {filled(query)}").fetchall()
    assert [(column, kind.lower()) for column, kind, *_ in described] == list(query.columns)


@pytest.mark.parametrize("name", [name for name in QUERIES if name != "enum_words"])
def test_a_header_lists_the_tables_that_are_read(name: str, connection: duckdb.DuckDBPyConnection) -> None:
    query = sql_file(f"queries/{name}")
    read = connection.get_table_names(filled(query), qualified=True)
    assert {table.rsplit(".", 1)[-1] for table in read} == set(query.listed("reads"))


@pytest.mark.parametrize("path", sorted((sql_folder() / "queries").glob("*.sql")), ids=lambda path: path.stem)
def test_every_query_says_its_grain_and_what_it_needs(path: Path) -> None:
    query = sql_file(f"queries/{path.stem}")
    assert query.about.endswith(".")
    assert query.listed("grain")
    assert {part for part in query.listed("needs") if "{" + part + "}" in query.query} == set(query.listed("needs"))
