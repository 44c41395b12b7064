"""
What was settled before and still stands: which patients must be settled anew, and what is kept for the next time.

Rules and links of one patient's records depend on those of others only where a component with one serial number went
into both, or where an operation was said to be first of one patient and then of another; such patients are settled
together. Possible primaries of a revision may be anybody's, so links are always made anew of all revisions.
"""

import functools
import hashlib
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

import duckdb

from regdash.store.code_rows import code_rows
from regdash.store.rule_settings import setting_values
from regdash.store.rules import JUDGED, Rule
from regdash.store.run import run
from regdash.store.sqlfiles import sql_folder
from regdash.store.tables import FEEDS, OPERATION_COLUMNS, Feed

# Feeds that speak of patients; the others are lists that the office keeps.
FEEDS_OF_PATIENTS = ("deaths", "losses")

# Of a revision, what links are made of.
REVISION_COLUMNS = (
    "version_no",
    "operation_id",
    "known_from",
    "patient_id",
    "birth_year",
    "sex",
    "joint",
    "side",
    "operation_date",
    "primary_operation_id",
    "primary_known_from",
    "later_primary_id",
    "held_primary_id",
    "other_side_id",
)
REVISION_LIST = ", ".join(REVISION_COLUMNS)

# Lists of which a change bears on the records that name what changed.
OF_SOME = ("catalogue", "hospitals", "surgeons")
# Lists of which a change may bear on anybody's records: pairs join implants, and a rule on systems asks for any at all.
OF_ANYBODY = ("catalogue_pairs", "hospital_systems")
# A rule that looks into the records of all patients may find there what came of anybody.
INTO_RECORDS = re.compile(
    r"\b(from|join)\s+(registry\.)?((known|standing)_)?(operations|components|revision_reasons|deaths|losses)\b"
)

# Above this share of the store's operations, settling a part saves nothing.
MOST_IN_SCOPE = 0.3
# Two rounds are the rule. Patients in a long chain, each sharing a serial number with the next, take a round each.
MOST_ROUNDS = 10


@dataclass(frozen=True)
class Settled:
    """How a store was settled: as of which day, by what, and whether a part alone was settled anew."""

    as_of: date
    settled_by: str
    is_part: bool


def feeds_of_patients() -> Iterable[Feed]:
    """List the feeds whose records are of single patients."""
    return (feed for feed in FEEDS if feed.name in FEEDS_OF_PATIENTS)


def lists_of_office() -> Iterable[Feed]:
    """List the feeds whose records are of implants, units and months."""
    return (feed for feed in FEEDS if feed.name not in FEEDS_OF_PATIENTS)


def settled_by(rules: Mapping[str, Sequence[Rule]]) -> str:
    """Name in one word all that decides how records are settled, beside the records: it changes with any of it."""
    said = [duckdb.__version__, repr(OPERATION_COLUMNS), repr(FEEDS), repr(setting_values()), repr(code_rows())]
    said += [repr(rule) for relation in sorted(rules) for rule in sorted(rules[relation], key=repr)]
    said += _statements()
    return hashlib.sha256("\n".join(said).encode()).hexdigest()


@functools.cache
def _statements() -> list[str]:
    return [path.read_text(encoding="utf-8") for path in sorted((sql_folder() / "settle").glob("*.sql"))]


def choose_scope(
    connection: duckdb.DuckDBPyConnection, as_of: date, rules: Mapping[str, Sequence[Rule]], by: str
) -> bool:
    """
    Put what concerns patients of whom something new is known in the place of the store's tables, if the rest can stand.

    The feeds that are the office's lists must have been chosen. Tells whether it did; if not, all is to be settled.
    """
    rows = run(connection, "settle/settled_before")
    if not rows:
        return False
    ((submissions, was_as_of, was_by, latest),) = rows
    conditions = looked_into(rules)
    if was_by != by or as_of < latest or INTO_RECORDS.search(conditions):
        return False
    values = {"submissions": submissions, "is_other_day": as_of != was_as_of}
    for feed in lists_of_office():
        bears_on_anybody = feed.table in OF_ANYBODY or f"known_{feed.table}" in conditions
        if not bears_on_anybody and feed.table not in OF_SOME:
            continue
        parts = {"table": feed.table, "file": feed.name, "columns": feed.columns}
        ((changes,),) = run(connection, "settle/changed_feed", values, **parts)
        if changes and bears_on_anybody:
            return False
    return _grow(connection, values)


def looked_into(rules: Mapping[str, Sequence[Rule]]) -> str:
    """Give the conditions of the rules on records: one may ask for more than its own row."""
    on_records = (rule for relation in JUDGED if not relation.startswith("read_") for rule in rules.get(relation, ()))
    return "\n".join(f"{rule.predicate}\n{rule.shows}" for rule in on_records)


def _grow(connection: duckdb.DuckDBPyConnection, values: dict[str, object]) -> bool:
    """Take in whom the patients at the edge share something with, until nobody is left out or it saves nothing."""
    run(connection, "settle/scope_seeds", values)
    ((operations,),) = connection.execute("select count(*) from registry.operations").fetchall()
    for _ in range(MOST_ROUNDS):
        ((patients, at_the_edge),) = run(connection, "settle/scope_size")
        if patients > MOST_IN_SCOPE * operations:
            return False
        if not at_the_edge:
            run(connection, "settle/scope_tables", values)
            return True
        run(connection, "settle/scope_grow")
    return False


def put_together(connection: duckdb.DuckDBPyConnection) -> None:
    """Join what was settled anew to what stands of all other patients."""
    run(connection, "settle/carry", revision_columns=REVISION_LIST)


def tell_findings(connection: duckdb.DuckDBPyConnection, *, is_part: bool) -> None:
    """Make `settled_findings`, what rules have to say about rows that still stand."""
    if not is_part:
        run(connection, "settle/settled_findings", findings="findings")
        return
    run(connection, "settle/findings_anew")
    run(connection, "settle/settled_findings", findings="findings_anew")
    run(connection, "settle/findings_carried")


def keep(connection: duckdb.DuckDBPyConnection, settled: Settled) -> None:
    """Write what was settled to the store for the next time."""
    run(connection, "settle/keep_scope" if settled.is_part else "settle/keep_all", revision_columns=REVISION_LIST)
    run(connection, "settle/note_settled", {"as_of": settled.as_of, "settled_by": settled.settled_by})
