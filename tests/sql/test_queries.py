"""The queries of reports: what their headers promise is what the database gives back."""

import re
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
    "part": "lot",
}
VALUES = {"implant": "KF-001", "joint_id": "P1-KL", "joint_no": 1, "most": 10, "skipped": 0, "role": "tibial"}
VALUES |= {"first_joint": 0, "end_joint": 9, "hospital": "H001", "operation_id": "H001-0000001", "kind": "primary"}
VALUES |= {"since": "2020-01-01", "operation_ids": ["H001-0000001"], "relation": "operation_facts"}
VALUES |= {"through": "2024-12-31", "first_month": "2020-01-01", "settled_by": "2024-12-31", "rule": "side-missing"}
VALUES |= {"period": "month", "statement": "select 1"}
VALUES |= {"deaths_known": "2024-12-31"}
VALUES |= {"maker": "M01"}
VALUES |= {"ranked": ["knee infection"], "groups": ["infection"], "details": ["infection"]}
VALUES |= {"lots": True, "joint": "knee", "implants": ["KF-001"]}


def joints(grouping: str) -> str:
    """The query of joints that others take in as a part."""
    own = {part: PARTS[part] for part in ("predicate", "reason", "no_reason")}
    return statement("queries/event_rows", grouping=grouping, **own)


IMPLANTED = "(implanted_date - date '1970-01-01')::integer as implanted, joint_no as own_no, "
# Parts of single queries, where those above do not do.
OWN_PARTS = {
    "dated_counts": {"joints": joints(IMPLANTED)},
    "pair_counts": {"joints": joints("patient_no, joint_no as own_no, "), "groups": ""},
    "value_counts": {"value": "sex"},
    **{name: {"revisions": statement("queries/revisions_done")} for name in ("revision_counts", "revisions_listed")},
    "activity": {
        "revisions": statement("queries/revisions_done"),
        "period": "year(done_date)::integer",
        "of_revisions": "true",
    },
    "missingness": {"tallies": "count(*) as side"},
    "missingness_of_components": {"tallies": "count(*) as lot"},
}
AS_ASKED = {"missingness": ["side"], "missingness_of_components": ["lot"]}  # columns that no header can list
VALUES |= {"senders": ["H001"], "others": [], "rule": "side-missing", "table": "operations"}
QUERIES = sorted(path.stem for path in (sql_folder() / "queries").glob("*.sql"))  # all: none is left untested


@pytest.fixture(scope="module")
def connection(tmp_path_factory: pytest.TempPathFactory) -> duckdb.DuckDBPyConnection:
    store = make_cut(tmp_path_factory.mktemp("store"), random_joints(200, seed=61))
    return duckdb.connect(str(cut_path(store, NAME)), read_only=True)


def filled(query: SqlFile) -> str:
    parts = PARTS | OWN_PARTS.get(query.name, {})
    text = statement(f"queries/{query.name}", **{part: parts[part] for part in query.listed("needs")})
    # A description is asked for without values, so they are written in.
    return re.sub(r"\$(\w+)", lambda found: repr(VALUES[found[1]]), text)


@pytest.mark.parametrize("name", QUERIES)
def test_a_header_promises_the_columns_that_come(name: str, connection: duckdb.DuckDBPyConnection) -> None:
    query = sql_file(f"queries/{name}")
    described = connection.execute(f"describe {filled(query)}").fetchall()
    if name in AS_ASKED:
        assert ([column for column, *_ in described], list(query.columns)) == (AS_ASKED[name], [])
    else:
        promised = dict(query.columns)
        kinds = [(column, "any" if promised.get(column) == "any" else kind.lower()) for column, kind, *_ in described]
        assert kinds == list(query.columns)


ABOUT_THE_DATABASE = {"enum_words", "documented_relations"}  # they read functions, which are no tables


@pytest.mark.parametrize("name", [name for name in QUERIES if name not in ABOUT_THE_DATABASE])
def test_a_header_lists_the_tables_that_are_read(name: str, connection: duckdb.DuckDBPyConnection) -> None:
    query = sql_file(f"queries/{name}")
    read = connection.get_table_names(filled(query), qualified=True)
    assert {table.partition(" AS ")[0].rsplit(".", 1)[-1] for table in read} == set(query.listed("reads"))


@pytest.mark.parametrize("path", sorted((sql_folder() / "queries").glob("*.sql")), ids=lambda path: path.stem)
def test_every_query_says_its_grain_and_what_it_needs(path: Path) -> None:
    query = sql_file(f"queries/{path.stem}")
    assert query.about.endswith(".")
    assert query.listed("grain")
    assert {part for part in query.listed("needs") if "{" + part + "}" in query.query} == set(query.listed("needs"))
