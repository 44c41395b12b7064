"""
Taking submissions in: all that was named, or nothing.
"""

import shutil
from dataclasses import dataclass
from datetime import date
from pathlib import Path

import duckdb

from regdash.errors import InputError
from regdash.intake.bundle import Submission
from regdash.intake.envelope import Envelope, find_submissions
from regdash.intake.files import CheckedFile, check_file
from regdash.intake.load import load, scratch_folder
from regdash.store.connect import writing
from regdash.store.run import run
from regdash.store.settle import Progress, keep_settled, settle

REPORT_EVERY = 100  # files checked between two reports of progress


@dataclass(frozen=True)
class FileReceipt:
    """What became of the rows of one file."""

    submission: str
    sender: str
    table: str
    received: int
    accepted: int
    held: int
    rejected: int
    known_already: int


@dataclass(frozen=True)
class Receipt:
    """What became of the rows of every file named: received = accepted + held + rejected + known already."""

    submissions: int
    new_submissions: int
    files: tuple[FileReceipt, ...]

    def total(self, field: str) -> int:
        """Add one of the counts over all files."""
        return sum(getattr(file, field) for file in self.files)


def receive(store: Path, paths: list[Path], progress: Progress | None = None) -> Receipt:
    """
    Take in every submission below the paths.

    A submission that was taken in before counts as known already. The store is changed by all that is
    new at once, or not at all.

    Raises:
        InputError: a path, an envelope or a file cannot be used, or contradicts what was taken in before.
        StoreError: another process is writing the store, or it is of another release.
    """
    found = check_all(find_submissions(paths), progress)
    with writing(store) as connection:
        new = _only_new(connection, found)
        _check_sequences(connection, new)
        if new:
            folder = scratch_folder(store)
            try:
                load(connection, new, folder, progress)
                as_of = latest_receipt(connection)
                settle(connection, as_of, progress)
                keep_settled(connection)
            finally:
                shutil.rmtree(folder, ignore_errors=True)
        receipt = _receipt(connection, found, new)
    return receipt


def latest_receipt(connection: duckdb.DuckDBPyConnection) -> date:
    """Date received of the newest submission in the store."""
    newest: date = connection.execute("select max(received_date) from submissions").fetchall()[0][0]
    return newest


def check_all(envelopes: list[Envelope], progress: Progress | None = None) -> list[Submission]:
    """
    Check every file as a whole.

    Raises:
        InputError: the first fault, and how many more there are.
    """
    faults: list[InputError] = []
    checked: dict[str, Submission] = {}
    done, total = 0, sum(len(envelope.files) for envelope in envelopes)
    for envelope in envelopes:
        files: dict[str, CheckedFile] = {}
        for table, declared in envelope.files.items():
            try:
                files[table] = check_file(envelope.path_of(table), table, declared)
            except InputError as fault:
                faults.append(fault)
            done += 1
            if progress and (done % REPORT_EVERY == 0 or done == total):
                progress("checking files", done, total)
        submission = Submission(envelope, files)
        twin = checked.setdefault(envelope.id, submission)
        if len(files) == len(envelope.files) and not faults and not same(submission, twin):
            faults.append(InputError(_conflict(envelope, f"in {twin.envelope.folder}")))
    if faults:
        others = len(faults) - 1
        more = f" {others:,} more {'file has a fault' if others == 1 else 'files have faults'}." if others else ""
        raise InputError(f"{faults[0]}{more} Nothing was taken in.")
    return list(checked.values())


def same(one: Submission, other: Submission) -> bool:
    """Tell whether two submissions say the same, envelope and files."""
    return _identity(one) == _identity(other)


def _identity(submission: Submission) -> tuple[object, ...]:
    e = submission.envelope
    hashes = sorted((table, file.sha256) for table, file in submission.files.items())
    return (e.kind, e.sender, e.sequence, e.received_date, e.complete_through, hashes)


def _conflict(envelope: Envelope, where: str) -> str:
    return (
        f"Submission {envelope.id} in {envelope.folder} differs from the one of the same id {where}. "
        "A correction is a new submission with an id and a sequence of its own."
    )


def _known_submissions(connection: duckdb.DuckDBPyConnection) -> dict[str, tuple[object, ...]]:
    """Fetch what tells each submission taken in from another, by id."""
    envelopes: dict[str, tuple[object, ...]] = {}
    hashes: dict[str, list[tuple[str, str]]] = {}
    for submission_id, *envelope, table, sha256 in run(connection, "intake/submissions_known"):
        envelopes[submission_id] = tuple(envelope)
        hashes.setdefault(submission_id, []).append((table, sha256))
    return {name: (*envelope, sorted(hashes[name])) for name, envelope in envelopes.items()}


def _only_new(connection: duckdb.DuckDBPyConnection, found: list[Submission]) -> list[Submission]:
    """Leave out submissions taken in before; refuse those that came otherwise before."""
    known = _known_submissions(connection)
    for submission in found:
        e = submission.envelope
        if known.get(e.id, _identity(submission)) != _identity(submission):
            raise InputError(_conflict(e, "taken in before") + " Nothing was taken in.")
    return [submission for submission in found if submission.envelope.id not in known]


def _check_sequences(connection: duckdb.DuckDBPyConnection, new: list[Submission]) -> None:
    """Refuse two submissions of one sender and kind with one sequence: neither would be the later."""
    taken = {tuple(row[:3]): row[3] for row in run(connection, "intake/sequences_taken")}
    for submission in new:
        e = submission.envelope
        other = taken.setdefault((e.sender, e.kind, e.sequence), e.id)
        if other != e.id:
            raise InputError(
                f"Submission {e.id} in {e.folder} has sequence {e.sequence}, which {other} of the same sender has "
                "already. Number it anew. Nothing was taken in."
            )


def _receipt(connection: duckdb.DuckDBPyConnection, found: list[Submission], new: list[Submission]) -> Receipt:
    new_ids = {submission.envelope.id for submission in new}
    settled = {row[:2]: row[2:] for row in run(connection, "intake/counts_of_files")} if new else {}
    files = []
    for submission in found:
        e = submission.envelope
        for table, file in submission.files.items():
            counts = settled[e.id, table] if e.id in new_ids else (file.rows, 0, 0, 0, file.rows)
            files.append(FileReceipt(e.id, e.sender, table, *counts))
    return Receipt(len(found), len(new), tuple(files))
