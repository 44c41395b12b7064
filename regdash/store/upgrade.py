"""
Bringing a store of an older layout up to this one, with a copy kept as it was.

What was submitted stands in the store unchanged; tables that have come since hold what is worked out of it, and are
filled when the store is settled next. A layout that cannot be reached so is refused, with what to do.
"""

import re
import shutil
from contextlib import suppress
from pathlib import Path

import duckdb

from regdash.errors import StoreError
from regdash.store.sqlfiles import statement

# From this layout on, what has come since is tables that settling fills. Raise it where a layout changes anything else.
UPGRADES_FROM = 4


def copy_path(registry: Path, layout: int) -> Path:
    """Where the copy of a store's database stands, of the layout that it had."""
    return registry.with_name(f"{registry.name}.of-layout-{layout}")


def why_not(store: Path, layout: int, wanted: int) -> str:
    """Say what to do about a store of an older layout, where only a writer can upgrade it, or nobody can."""
    has = f"The store {store} has layout {layout}, of an older release; this one reads layout {wanted}"
    if layout >= UPGRADES_FROM:
        return (
            f"{has}. Any receive upgrades it and keeps a copy: regdash receive PATH, also of a submission that it has."
        )
    return (
        f"{has} and cannot upgrade it. Take all its submissions in again, into a new store: regdash receive PATH "
        f"--store NEW; first copy office.sqlite there, for decisions and the audit trail. {store} stays as it is."
    )


def keep_copy(connection: duckdb.DuckDBPyConnection, registry: Path, layout: int, mode: int) -> Path:
    """
    Copy the database as it is, before anything is written to it; one that was kept before stays.

    Raises:
        OSError: there is no room for it.
    """
    copy = copy_path(registry, layout)
    if copy.exists():
        return copy
    connection.execute("checkpoint")
    aside = copy.with_name(copy.name + ".part")
    try:
        shutil.copyfile(registry, aside)
        with suppress(PermissionError):
            aside.chmod(mode)
        aside.rename(copy)
    finally:
        aside.unlink(missing_ok=True)
    return copy


def upgrade(connection: duckdb.DuckDBPyConnection, store: Path, layout: int, wanted: int) -> None:
    """
    Make the tables that a store of an older layout lacks, and note the layout; part of the caller's transaction.

    Raises:
        StoreError: the layout is too old.
    """
    if layout < UPGRADES_FROM:
        raise StoreError(why_not(store, layout, wanted))
    there = {name for (name,) in connection.execute("select table_name from duckdb_tables()").fetchall()}
    for table, made in tables_made().items():
        if table not in there:
            connection.execute(made)
    connection.execute("update store_facts set value = ? where fact = 'release'", [str(wanted)])


def tables_made() -> dict[str, str]:
    """Split the schema of the store by its tables: what makes each, and comments on it."""
    parts = re.split(r"(?m)^(?=create table )", statement("schema/store"))
    return {part.split(maxsplit=3)[2]: part.rstrip().rstrip(";") for part in parts if part.strip()}
