"""
What a cut says of itself: counts, versions and a hash over its rows, which two equal cuts share.
"""

import hashlib
import json
from collections.abc import Sequence
from dataclasses import asdict
from datetime import date
from typing import Any

import duckdb

import regdash
from regdash import vocabulary
from regdash.store.cuts import LAYOUT, Manifest
from regdash.store.link_decisions import LinkDecision, summary
from regdash.store.rule_book import all_in_force
from regdash.store.rules import rule_set
from regdash.store.run import run
from regdash.store.words import WORDS

TWO_STAGE_MONTHS = 12  # as sql/freeze/episodes.sql has it

# Written once the rest is known, so not part of what is hashed.
FACTS_TABLE = "cut_facts"

# The number of the content hash's definition. Raise it with every change of what is hashed, or how.
HASH_FORMAT = 2


def make_manifest(
    connection: duckdb.DuckDBPyConnection,
    through: date,
    as_of: date,
    complete_through: dict[str, Any],
    decisions: Sequence[LinkDecision] = (),
) -> Manifest:
    """Count and hash a cut that is filled; its name is not yet known."""
    hashes = table_hashes(connection)
    joints, patients, revisions = run(connection, "freeze/headline")[0]
    return Manifest(
        cut="",
        through_date=through.isoformat(),
        known_as_of=as_of.isoformat(),
        complete_through=complete_through,
        joints=joints,
        patients=patients,
        revisions=revisions,
        rows={table: rows for table, (rows, _) in hashes.items()},
        rule_set=rule_set(all_in_force(connection, as_of)),
        catalogue=f"{hashes['catalogue'][0]}-{_digest(hashes['catalogue'])}",
        code_lists=_digest([WORDS, vocabulary.REASONS]),
        software=f"regdash {regdash.__version__}, duckdb {duckdb.__version__}",
        content_hash=content_hash(hashes),
        hash_format=HASH_FORMAT,
        settings={"two_stage_months": TWO_STAGE_MONTHS, "link_decisions": summary(decisions)},
        layout=LAYOUT,
    )


def table_hashes(connection: duckdb.DuckDBPyConnection) -> dict[str, tuple[int, str]]:
    """Count and hash the rows of each table of a cut, by name; reading them all also proves that they can be read."""
    cells: dict[str, list[str]] = {}
    for table, column in run(connection, "freeze/cells"):
        if table != FACTS_TABLE:
            cells.setdefault(table, []).append(column)
    return {table: _hash_of(connection, table, of_table) for table, of_table in cells.items()}


def _hash_of(connection: duckdb.DuckDBPyConnection, table: str, cells: list[str]) -> tuple[int, str]:
    rows, total = run(connection, "freeze/table_hash", table=table, cells=", ".join(cells))[0]
    return int(rows), str(total or "0")


def content_hash(hashes: dict[str, tuple[int, str]]) -> str:
    """Bring the hashes of all tables together in one."""
    told = "\n".join(f"{table} {rows} {total}" for table, (rows, total) in sorted(hashes.items()))
    return hashlib.sha256(told.encode()).hexdigest()


def _digest(thing: Any) -> str:
    return hashlib.sha256(repr(thing).encode()).hexdigest()[:12]


def write_facts(connection: duckdb.DuckDBPyConnection, manifest: Manifest) -> None:
    """Write a manifest into the cut itself, a row a fact."""
    facts = [
        (name, value if isinstance(value, str) else json.dumps(value, sort_keys=True))
        for name, value in asdict(manifest).items()
    ]
    connection.executemany(f"insert into {FACTS_TABLE} values (?, ?)", facts)
