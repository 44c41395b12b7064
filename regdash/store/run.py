"""
Running the statements of one SQL file, each with those of the given values that it asks for.
"""

from typing import Any

import duckdb

from regdash.store.sqlfiles import statement

Rows = list[tuple[Any, ...]]


def run(connection: duckdb.DuckDBPyConnection, path: str, values: dict[str, Any] | None = None, **parts: str) -> Rows:
    """
    Run `sql/<path>.sql` with its parts put in, and fetch what its last statement returns.

    `values` are bound as `$name`; a statement takes those it names.
    """
    rows: Rows = []
    for prepared in connection.extract_statements(statement(path, **parts)):
        wanted = {name: value for name, value in (values or {}).items() if name in prepared.named_parameters}
        rows = connection.execute(prepared, wanted or None).fetchall()
    return rows
