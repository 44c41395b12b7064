"""
Checked files into the store: staged as text, read, judged row by row, and kept as versions.
"""

import glob
import shutil
import tempfile
from collections import defaultdict
from pathlib import Path

import duckdb

from regdash import icd10
from regdash.dictionary import KINDS, PATIENT_FORM, ROW_KEYS, SCHEMA_VERSION, TABLES
from regdash.intake.bundle import Submission, batches, write_bundle
from regdash.store.rules import judge
from regdash.store.run import run
from regdash.store.sent import KEPT_IN, differs, texts
from regdash.store.settle import Progress
from regdash.store.sqlfiles import sql_file
from regdash.store.tables import FEEDS, OPERATION_COLUMNS
from regdash.store.words import WORDS, word_of

# The column of a file whose text each word is read from, where the two differ in name.
WORD_COLUMNS = {"component_action": "action_text", "constraint": "constraint_text"}


def load(
    connection: duckdb.DuckDBPyConnection,
    submissions: list[Submission],
    folder: Path,
    progress: Progress | None = None,
) -> None:
    """
    Take checked submissions into the store; none of them may be there yet.

    `folder` is where temporary files may be written.
    """
    numbers = _enter(connection, submissions)
    by_kind = defaultdict(list)
    for submission in submissions:
        by_kind[submission.envelope.kind].append(submission)
    done, total = 0, sum(submission.rows for submission in submissions)
    run(connection, "intake/macros")
    run(connection, "intake/udi")
    run(connection, "intake/icd10_codes", icd10.code_columns())
    for kind, of_kind in by_kind.items():
        for batch in batches(of_kind):
            _load_batch(connection, kind, batch, numbers, folder)
            done += sum(submission.rows for submission in batch)
            if progress:
                progress("taking in rows", done, total)


def _enter(connection: duckdb.DuckDBPyConnection, submissions: list[Submission]) -> dict[str, int]:
    """Write envelopes and files of submissions; give each its number."""
    newest = connection.execute("select coalesce(max(submission_no), 0) from submissions").fetchall()[0][0]
    numbers = {s.envelope.id: newest + n for n, s in enumerate(submissions, 1)}
    with connection.appender("submissions") as rows:
        for submission in submissions:
            e = submission.envelope
            rows.append_row(
                numbers[e.id],
                e.id,
                e.kind,
                e.sender,
                e.sequence,
                e.received_date,
                e.complete_through,
                SCHEMA_VERSION,
                e.reason_for_correction or None,
            )
    with connection.appender("submission_files") as rows:
        for submission in submissions:
            for table, file in submission.files.items():
                declared = submission.envelope.files[table]
                # What became of the rows is filled in once all is settled.
                rows.append_row(numbers[submission.envelope.id], table, file.sha256, declared, file.rows, 0, 0, 0, 0)
    return numbers


def _load_batch(
    connection: duckdb.DuckDBPyConnection,
    kind: str,
    batch: list[Submission],
    numbers: dict[str, int],
    folder: Path,
) -> None:
    tables = KINDS[kind].tables
    run(connection, "intake/staged_files")
    for table in tables:
        _stage(connection, table, batch, numbers, folder)
    for table in tables:
        _read(connection, table)
        judge(connection, f"read_{table}", "row_findings")
        run(connection, "intake/drop_repeated", table=table)
        _keep(connection, table)
        if table == "operations":
            run(connection, "intake/operation_parents")
    for table in tables:
        connection.execute(f"drop table read_{table}")
        connection.execute(f"drop view placed_{table}")
        connection.execute(f"drop table staged_{table}")


def _stage(
    connection: duckdb.DuckDBPyConnection, table: str, batch: list[Submission], numbers: dict[str, int], folder: Path
) -> None:
    path = folder / f"{table}.csv"
    placed = write_bundle(path, table, batch)
    with connection.appender("staged_files") as rows:
        for at in placed:
            e = at.submission.envelope
            rows.append_row(at.file_no, table, numbers[e.id], e.sender, e.received_date, at.first_row)
    columns = [f"{column}_text" for column in TABLES[table]]
    typed = ", ".join(["'file_no': 'INTEGER'", *(f"'{column}': 'VARCHAR'" for column in columns)])
    names = ", ".join(f"'{column}'" for column in columns)
    values = {"path": glob.escape(str(path))}  # the database reads a path as a pattern
    run(connection, "intake/staged", values, table=table, columns=f"{{{typed}}}", column_names=f"[{names}]")
    path.unlink()
    key = [f"{column}_text" for column in ROW_KEYS[table]]
    run(
        connection,
        "intake/repeated",
        table=table,
        key=", ".join(key),
        key_of_s=", ".join(f"s.{column}" for column in key),
        same_key=" and ".join(f"r.{column} = s.{column}" for column in key),
        content=", ".join(f"s.{column}" for column in columns),
    )
    run(connection, "intake/placed", table=table)


def _read(connection: duckdb.DuckDBPyConnection, table: str) -> None:
    """Read the staged text of a table as values."""
    if table == "operations":
        run(connection, "intake/read_icd10", form=icd10.FORM)
    if table == "components":
        run(connection, "intake/labels")
        run(connection, "intake/read_labels", source="placed_labels")
    parts = {}
    for part in sql_file(f"intake/read_{table}").listed("needs"):
        if part == "patient_form":
            parts[part] = PATIENT_FORM.pattern
        else:
            assert part in WORDS
            parts[part] = word_of(WORD_COLUMNS.get(part, f"{part}_text"), part)
    run(connection, f"intake/read_{table}", None, **parts)


def _keep(connection: duckdb.DuckDBPyConnection, table: str) -> None:
    if table in KEPT_IN:
        run(connection, "intake/keep_sent", table=table, texts=texts(table, "r"), differs=differs(table, "r"))
    if table == "operations":
        run(connection, "intake/keep_operations", columns=", ".join(OPERATION_COLUMNS))
    elif table in ("components", "reasons"):
        run(connection, f"intake/keep_{table}")
    else:
        feed = next(feed for feed in FEEDS if feed.name == table)
        run(connection, "intake/keep_feed", table=feed.table, file=table, columns=feed.columns)


def scratch_folder(store: Path) -> Path:
    """Make a folder for temporary files inside a store; those of runs that were killed go."""
    for left in store.glob(".intake-*"):
        shutil.rmtree(left, ignore_errors=True)
    return Path(tempfile.mkdtemp(prefix=".intake-", dir=store))
