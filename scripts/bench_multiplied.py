"""
A cut of many million joints from the cut of a million: the same lives and records several times over, under keys of
their own. Hospitals, surgeons, implants and lots stay as many as they were, so each is used so many times as often.

Run by `bench.py` in a process of its own: python bench_multiplied.py STORE TIMES NEW_STORE
"""

import shutil
import sys
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import duckdb

    from regdash.store.cuts import Manifest

NUMBERED = {"joint_no": "joints", "patient_no": "patients"}  # dense numbers, and how many of them a cut has
NAMED = ("joint_id", "patient_id", "operation_id", "revision_operation_id", "primary_operation_id", "record_id")
MEMORY_LIMIT = "4GB"
IN_ORDER = {"follow_up": " order by joint_no"}  # tables that a cut holds sorted


def multiplied(store: Path, times: int, target: Path) -> "Manifest":
    """Make the one cut of a new store from the newest of another, and its manifest."""
    import duckdb

    from regdash.store.cuts import cut_path, find_cut
    from regdash.store.manifest import write_facts
    from regdash.store.words import quoted

    before = find_cut(store)
    path = cut_path(target, before.cut)
    path.parent.mkdir(parents=True)
    shutil.copy(cut_path(store, before.cut), path)
    with duckdb.connect(str(path), config={"memory_limit": MEMORY_LIMIT}) as connection:
        connection.execute(f"attach {quoted(str(cut_path(store, before.cut)))} as once (read_only)")
        for table, keys in _keys_of(connection).items():
            for nth in range(1, times):
                shifted = ", ".join(f"{_shifted(key, nth, before)} as {key}" for key in keys)
                order = IN_ORDER.get(table, "")
                connection.execute(f"insert into {table} select * replace ({shifted}) from once.{table}{order}")
        manifest = replace(
            before,
            joints=before.joints * times,
            patients=before.patients * times,
            revisions=before.revisions * times,
            rows=_rows_of(connection, before),
            content_hash="not taken",
        )
        connection.execute("delete from cut_facts")
        write_facts(connection, manifest)
        connection.execute("checkpoint")
    path.with_suffix(".json").write_text(manifest.to_json(), encoding="utf-8")
    return manifest


def _keys_of(connection: "duckdb.DuckDBPyConnection") -> dict[str, list[str]]:
    """The keys of each table that has any; what else there is in a cut is of no single joint."""
    found: dict[str, list[str]] = {}
    columns = "select table_name, column_name from duckdb_columns() where database_name = current_database()"
    tables = "table_name in (select table_name from duckdb_tables() where database_name = current_database())"
    for table, column in connection.execute(f"{columns} and {tables} order by all").fetchall():
        if column in (*NUMBERED, *NAMED):
            found.setdefault(table, []).append(column)
    return found


def _shifted(key: str, nth: int, before: "Manifest") -> str:
    """A key of the nth repetition, as an expression; where there is none there is none."""
    return f"{key} + {nth * getattr(before, NUMBERED[key])}" if key in NUMBERED else f"{key} || '.{nth}'"


def _rows_of(connection: "duckdb.DuckDBPyConnection", before: "Manifest") -> dict[str, int]:
    count = "select count(*) from {}"
    return {table: connection.execute(count.format(table)).fetchall()[0][0] for table in before.rows}


if __name__ == "__main__":
    multiplied(Path(sys.argv[1]), int(sys.argv[2]), Path(sys.argv[3]))
