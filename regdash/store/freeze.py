"""
Making a data cut: everything known at one date about the time up to another, in a file that is never written again.

It is built aside and put in its place in one step, so that nobody ever opens half of one.
"""

import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import duckdb

from regdash.errors import StoreError
from regdash.store.against_previous import compare_with_previous
from regdash.store.audit import without_patients
from regdash.store.connect import FILE_MODE, FOLDER_MODE, opened, reading
from regdash.store.cuts import CUTS_FOLDER, Manifest, cut_path
from regdash.store.link_decisions import decisions_known
from regdash.store.manifest import make_manifest, write_facts
from regdash.store.personal_numbers import refuse_personal
from regdash.store.rule_book import rules_in_force
from regdash.store.rule_settings import setting_values
from regdash.store.rules import UNITS, judge_units
from regdash.store.run import run
from regdash.store.sent import told_parts, told_parts_of
from regdash.store.settle import Progress, settle
from regdash.store.sqlfiles import SqlFile, statement, views_in_order
from regdash.store.tables import FEEDS
from regdash.store.unfit_rules import fitting
from regdash.store.words import WORDS, quoted

# Made in this order from what was settled: first what the cut is made of, then its tables.
DERIVED = (
    "complete_through",
    "cut_operations",
    "joints",
    "joint_operations",
    "episodes",
    "surgeon_volumes",
    "component_moves",
    "component_exits",
    "episode_facts",
    "unit_figures",
)
FILLED = ("component_life", "follow_up", "revision_episodes", "held_revisions", "copies", "corrections")

RESERVED = "reserved"  # in the folder where a cut is built: the name it will have

# Where the values of each ENUM of codes come from, and the column there.
CODES = {
    "hospital_codes": ("cut_operations", "hospital_id"),
    "surgeon_codes": ("cut_operations", "surgeon_id"),
    "region_codes": ("known_hospitals", "region"),
    "implant_codes": ("known_entries", "implant"),
    "maker_codes": ("known_entries", "maker"),
    "construct_codes": (
        "(select distinct coalesce(construct, 'not recorded') as construct"
        " from joints as j left join primary_implants as i on i.version_no = j.version_no)",
        "construct",
    ),
}


def freeze(
    store: Path,
    through: date,
    known_as_of: date | None = None,
    progress: Progress | None = None,
    because: str = "",
) -> Manifest:
    """
    Make the cut of all that happened through a date, as it was known at another (if left out: as known today).

    Args:
        because: why it is right although links or counted records of the cut before are lost; kept in the manifest.

    Raises:
        CutRefused: links or counted records of the cut before would be lost, and nobody says why.
        StoreError: there is no store, a writer holds it, or nothing was known then of that time.
    """
    because = refuse_personal(because)
    with reading(store) as connection:
        as_of = _as_of(connection, store, through, known_as_of)
        decisions = decisions_known(store, as_of if known_as_of else None)
        # What was decided after the last submission came is known today, so today's cut is of that day.
        as_of = max([as_of, *(one.decided_on for one in decisions)])
        workshop = _workshop(store)
        aside = workshop / "cut.duckdb"
        try:
            settle(connection, as_of, progress, decisions)
            compared = compare_with_previous(connection, store, through, as_of, because)
            completeness = _build(connection, aside, {"as_of": as_of, "through": through, **setting_values()}, progress)
            connection.close()
            with opened(aside) as cut:
                nameless = make_manifest(cut, through, as_of, completeness, decisions)
            with reserved_name(store, through) as name:
                (workshop / RESERVED).write_text(name)
                kept = compared.as_kept() if compared else {}
                manifest = replace(nameless, cut=name, compared=kept, because=without_patients(because))
                with opened(aside) as cut:
                    _finish(cut, manifest)
                _publish(store, aside, manifest)
        finally:
            shutil.rmtree(workshop, ignore_errors=True)
    return manifest


def _as_of(connection: duckdb.DuckDBPyConnection, store: Path, through: date, known_as_of: date | None) -> date:
    ((first, latest),) = run(connection, "freeze/receipts")
    as_of = known_as_of or latest
    if first is None or as_of < first:
        raise StoreError(
            f"Nothing was known in the store {store} on {known_as_of}; the first submission is of {first}."
        )
    if through > as_of:
        raise StoreError(
            f"A cut through {through} cannot be made from what was known on {as_of}. Name a date up to then."
        )
    return as_of


def manifest_path(store: Path, name: str) -> Path:
    """Where a cut's manifest stands; a cut is there once it is."""
    return store / CUTS_FOLDER / f"{name}.json"


def _workshop(store: Path) -> Path:
    """Make a folder to build the cut in; those of runs that were killed go."""
    cuts = store / CUTS_FOLDER
    cuts.mkdir(exist_ok=True)
    with suppress(PermissionError):
        cuts.chmod(FOLDER_MODE)
    for left in cuts.glob(".making-*"):
        if not _is_at_work(left):
            _forget_unfinished(store, left)
            shutil.rmtree(left, ignore_errors=True)
    folder = cuts / f".making-{os.getpid()}"
    folder.mkdir()
    return folder


def _forget_unfinished(store: Path, left: Path) -> None:
    """Remove the cut that a killed freeze had put in its place, but not its manifest: nobody can know of it."""
    with suppress(FileNotFoundError):
        name = (left / RESERVED).read_text()
        if name and not manifest_path(store, name).exists():
            cut_path(store, name).unlink()


def _is_at_work(left: Path) -> bool:
    process = left.name.rpartition("-")[2]
    if not process.isdecimal() or int(process) == os.getpid():
        return False
    try:
        os.kill(int(process), 0)
    except ProcessLookupError:
        return False
    except PermissionError:
        return True
    return True


def _build(
    connection: duckdb.DuckDBPyConnection, aside: Path, values: dict[str, Any], progress: Progress | None
) -> dict[str, Any]:
    """Fill the cut's tables; give the complete-through dates by feed."""
    steps = len(DERIVED) + len(FILLED) + 1
    alias = connection.execute("select current_database()").fetchall()[0][0]
    if alias != "registry":
        raise AssertionError(f"the store's database is called {alias!r}")
    for number, path in enumerate(DERIVED):
        _report(progress, number, steps)
        run(connection, f"freeze/{path}", values)
    connection.execute(f"attach {quoted(str(aside))} as cut (read_write)")
    # One transaction: each of some hundred comments would else wait for the disk.
    connection.execute("begin")
    _create_tables(connection)
    for number, path in enumerate(FILLED, len(DERIVED)):
        _report(progress, number, steps)
        run(connection, f"freeze/{path}", values, **(told_parts() if path == "corrections" else {}))
    for feed in FEEDS:
        run(connection, "freeze/corrections_of_feed", values, **told_parts_of(feed))
    unit_rules = rules_in_force(connection, values["as_of"]).get(UNITS, [])
    judge_units(connection, fitting(connection, unit_rules))
    rows = run(connection, "freeze/feeds_complete")
    connection.execute("commit")
    connection.execute("detach cut")
    _report(progress, steps - 1, steps)
    return _by_feed(rows)


def _report(progress: Progress | None, done: int, total: int) -> None:
    if progress:
        progress("making the cut", done, total)


def _by_feed(rows: list[tuple[str, str, date]]) -> dict[str, Any]:
    """Give the newest date of each feed, and for operations that of each hospital."""
    feeds: dict[str, Any] = {"operations": {}}
    for kind, sender, complete in rows:
        if kind == "operations":
            feeds[kind][sender] = complete.isoformat()
        else:
            feeds[kind] = max(feeds.get(kind, ""), complete.isoformat())
    return feeds


def _create_tables(connection: duckdb.DuckDBPyConnection) -> None:
    codes = {name: _codes(connection, *source) for name, source in CODES.items()}
    connection.execute("use cut")
    for name, words in [*((f"{name}_words", words) for name, words in WORDS.items()), *codes.items()]:
        connection.execute(f"create type {name} as enum ({', '.join(quoted(word) for word in words)})")
    connection.execute(statement("schema/cut"))
    connection.execute(statement("schema/copies"))
    connection.execute("use registry")


def _codes(connection: duckdb.DuckDBPyConnection, table: str, column: str) -> tuple[str, ...]:
    found = tuple(code for (code,) in run(connection, "freeze/codes", table=table, column=column))
    return found or ("not recorded",)


def create_view(connection: duckdb.DuckDBPyConnection, view: SqlFile) -> None:
    """Create one view of `sql/views`, with what its header says as comments."""
    connection.execute(f"create view {view.name} as\n{view.query}")
    connection.execute(f"comment on view {view.name} is {quoted(view.about)}")
    for line in view.fields.get("columns", "").splitlines():
        name, _, about = (line.split(None, 2) + ["", ""])[:3]
        if name:
            connection.execute(f"comment on column {view.name}.{name} is {quoted(about)}")


def _finish(connection: duckdb.DuckDBPyConnection, manifest: Manifest) -> None:
    """Add what stands on the tables of a cut: views and facts."""
    connection.execute("begin")
    for view in views_in_order():
        create_view(connection, view)
    write_facts(connection, manifest)
    connection.execute("commit")
    connection.execute("checkpoint")


@contextmanager
def reserved_name(store: Path, through: date) -> Iterator[str]:
    """
    Take the next free number for a through-date.

    The empty file that marks it is replaced by the cut, or goes if there is none.
    """
    number = 1
    while True:
        name = f"{through}.{number}"
        try:
            cut_path(store, name).open("x").close()
            break
        except FileExistsError:
            number += 1
    try:
        yield name
    finally:
        if cut_path(store, name).stat().st_size == 0:
            cut_path(store, name).unlink()


def _publish(store: Path, aside: Path, manifest: Manifest) -> None:
    """Put a finished cut in its place: the file first, since a cut is there once its manifest is."""
    if aside.with_name(aside.name + ".wal").exists():
        raise StoreError(f"The cut {aside} was not written to the end. Is the disk full?")
    target = cut_path(store, manifest.cut)
    target.with_name(target.name + ".wal").unlink(missing_ok=True)
    aside.chmod(FILE_MODE)
    _sync(aside)
    os.replace(aside, target)
    written = aside.with_suffix(".json")
    written.write_text(manifest.to_json(), encoding="utf-8")
    written.chmod(FILE_MODE)
    _sync(written)
    os.replace(written, manifest_path(store, manifest.cut))
    _sync(target.parent)


def _sync(path: Path) -> None:
    descriptor = os.open(path, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)
