"""
Taking submissions in: each whole or not at all, and all of them in one transaction.
"""

import shutil
from collections import defaultdict
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

import duckdb

from regdash.dictionary import PATIENT_NUMBERS
from regdash.errors import InputError, StoreError
from regdash.intake.bundle import Submission
from regdash.intake.envelope import Envelope, find_submissions
from regdash.intake.files import CheckedFile, check_file
from regdash.intake.gaps import Gap, gaps_in
from regdash.intake.load import load, scratch_folder
from regdash.intake.pseudonyms import KEY_VARIABLE, Naming, Pseudonyms
from regdash.intake.refusals import Refused, first_gaps, in_one_line
from regdash.store.connect import fact, note_fact, writing
from regdash.store.late_corrections import SubmissionFinding, late_in_store
from regdash.store.rule_book import Pending, apply_rules, enter_rules, has_pending, pending
from regdash.store.run import run
from regdash.store.settle import Progress, keep_settled, settle

REPORT_EVERY = 100  # files checked between two reports of progress
KEY_FACT = "pseudonym_key"  # the fingerprint of the one key that a store's pseudonyms were made with


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
    """What became of the rows of every file taken in: received = accepted + held + rejected + known already."""

    submissions: int
    new_submissions: int
    files: tuple[FileReceipt, ...]
    refused: tuple[Refused, ...] = ()
    pending: tuple[Pending, ...] = ()  # rules newer than the store, which judge only what comes after them
    late: tuple[SubmissionFinding, ...] = ()  # new submissions that change what a data cut had counted
    gaps: tuple[Gap, ...] = ()  # numbers missing among the submissions of those that sent something new

    def total(self, field: str) -> int:
        """Add one of the counts over all files."""
        return sum(getattr(file, field) for file in self.files)


def receive(
    store: Path, paths: list[Path], progress: Progress | None = None, pseudonyms: Pseudonyms | None = None
) -> Receipt:
    """
    Take in every submission below the paths.

    A submission that was taken in before counts as known already. One with a fault is refused by itself, and with it
    those of its sender and kind that come later; the others are taken in, all at once.

    Raises:
        InputError: a path cannot be used, or none of the submissions can; an envelope does not say whose it is, so
            that nobody knows what must wait for it; patients are named by numbers and there is no key.
        StoreError: another process is writing the store, or it is of another release or another key.
    """
    envelopes, refused = find_submissions(paths)
    if any(one.place is None for one in refused):
        raise InputError(in_one_line(refused))
    found = _check_all(envelopes, refused, pseudonyms, progress)
    if not found:
        raise InputError(in_one_line(refused))
    with writing(store) as connection:
        _check_key(connection, found, pseudonyms)
        new, known = _divide(connection, found, refused)
        if not new and not known:
            raise InputError(in_one_line(refused))
        receipt = _receipt(connection, new, known, refused, _take_in(connection, store, new, progress))
        if not new:
            return receipt
        ids = [submission.envelope.id for submission in new]
        late = late_in_store(connection, store, ids, latest_receipt(connection))
        taken = [row[:3] for row in run(connection, "intake/sequences_taken")]
        gaps = gaps_in(taken, {submission.envelope.place[:2] for submission in new})
        return replace(receipt, late=tuple(late), gaps=gaps)


def _take_in(
    connection: duckdb.DuckDBPyConnection, store: Path, new: list[Submission], progress: Progress | None
) -> list[Pending]:
    """Load and settle, if there is anything; give the rules that would take out rows which count."""
    if not new:
        return []
    folder = scratch_folder(store)
    try:
        enter_rules(connection)
        load(connection, new, folder, progress)
        latest = latest_receipt(connection)
        # What rules would take out that judge later rows alone is counted over all records.
        settled = settle(connection, latest, progress, afresh=has_pending(connection, latest))
        keep_settled(connection, settled)
        return pending(connection, latest)
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def apply_new_rules(store: Path, progress: Progress | None = None) -> list[Pending]:
    """
    Let the program's rules judge all rows of a store, also those that were accepted under older ones; give those that
    take out rows which were counted.

    Raises:
        StoreError: there is no store, or another process holds it.
    """
    with writing(store) as connection:
        latest = latest_receipt(connection)
        enter_rules(connection)
        settle(connection, latest, progress, leave_out_unfit=True, afresh=True)  # such rules end below
        taken = pending(connection, latest)
        apply_rules(connection)
        keep_settled(connection, settle(connection, latest, progress, afresh=True))
        return [one for one in taken if one.rows]


def _check_key(connection: duckdb.DuckDBPyConnection, found: list[Submission], pseudonyms: Pseudonyms | None) -> None:
    """Refuse a second key: under another, a patient would be another patient."""
    if not pseudonyms or all(s.envelope.patient_numbers == PATIENT_NUMBERS[0] for s in found):
        return
    noted = fact(connection, KEY_FACT)
    if noted is None:
        note_fact(connection, KEY_FACT, pseudonyms.fingerprint)
    elif noted != pseudonyms.fingerprint:
        raise StoreError(
            "The key is not the one that this store's pseudonyms were made with, so no patient would be found again. "
            f"Name that key with --key FILE or {KEY_VARIABLE}. Nothing was taken in."
        )


def latest_receipt(connection: duckdb.DuckDBPyConnection) -> date:
    """Date received of the newest submission in the store."""
    newest: date = connection.execute("select max(received_date) from submissions").fetchall()[0][0]
    return newest


def _check_all(
    envelopes: list[Envelope], refused: list[Refused], pseudonyms: Pseudonyms | None, progress: Progress | None
) -> list[Submission]:
    """Check every file as a whole; give the submissions without a fault, each once, and add the others to `refused`."""
    checked: dict[str, list[Submission]] = defaultdict(list)
    done, total = 0, sum(len(envelope.files) for envelope in envelopes)
    for envelope in envelopes:
        files, faults = _check_files(envelope, _naming(envelope, pseudonyms))
        if faults:
            refused.append(Refused(envelope.folder, _all_faults(faults), envelope.place))
        else:
            checked[envelope.id].append(Submission(envelope, files))
        before, done = done, done + len(envelope.files)
        if progress and (done // REPORT_EVERY > before // REPORT_EVERY or done == total):
            progress("checking files", done, total)
    found = []
    for twins in checked.values():
        if all(same(twin, twins[0]) for twin in twins):
            found.append(twins[0])
            continue
        for twin in twins:
            others = ", ".join(t.envelope.folder for t in twins if not same(t, twin))
            refused.append(_refused(twin, _conflict(twin.envelope, f"in {others}")))
    return found


def _check_files(envelope: Envelope, naming: Naming | None) -> tuple[dict[str, CheckedFile], list[InputError]]:
    files, faults = {}, []
    for table, declared in envelope.files.items():
        try:
            files[table] = check_file(envelope.path_of(table), table, declared, naming)
        except InputError as fault:
            faults.append(fault)
    return files, faults


def _all_faults(faults: list[InputError]) -> str:
    others = len(faults) - 1
    more = f" {others:,} more {'file has a fault' if others == 1 else 'files have faults'}." if others else ""
    return f"{faults[0]}{more}"


def _naming(envelope: Envelope, pseudonyms: Pseudonyms | None) -> Naming | None:
    if envelope.patient_numbers == PATIENT_NUMBERS[0]:
        return None
    if pseudonyms is None:
        raise InputError(
            f"Submission {envelope.id} in {envelope.folder} names patients by numbers, and no key was named to make "
            f"pseudonyms of them. Name it with --key FILE or {KEY_VARIABLE}. Nothing was taken in."
        )
    return Naming(pseudonyms, envelope.sender if envelope.patient_numbers == "own" else "")


def _refused(submission: Submission, told: str) -> Refused:
    return Refused(submission.envelope.folder, told, submission.envelope.place)


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


def _divide(
    connection: duckdb.DuckDBPyConnection, found: list[Submission], refused: list[Refused]
) -> tuple[list[Submission], list[Submission]]:
    """Give those to take in and those known already; add to `refused` what contradicts others, and what must wait."""
    before = _known_submissions(connection)
    new, known = [], []
    for submission in found:
        e = submission.envelope
        if e.id not in before:
            new.append(submission)
        elif before[e.id] == _identity(submission):
            known.append(submission)
        else:
            refused.append(_refused(submission, _conflict(e, "taken in before")))
    new = _without_rivals(connection, new, refused)
    return _without_waiting(new, refused), known


def _without_rivals(
    connection: duckdb.DuckDBPyConnection, new: list[Submission], refused: list[Refused]
) -> list[Submission]:
    """Refuse submissions of one sender and kind with one sequence: neither would be the later."""
    ids = defaultdict(set)
    for sender, kind, sequence, known_id in run(connection, "intake/sequences_taken"):
        ids[sender, kind, sequence].add(known_id)
    for submission in new:
        ids[submission.envelope.place].add(submission.envelope.id)
    alone = []
    for submission in new:
        e = submission.envelope
        rivals = sorted(ids[e.place] - {e.id})
        if rivals:
            told = (
                f"Submission {e.id} in {e.folder} has sequence {e.sequence}, which {rivals[0]} of the same sender has "
                "too. Number it anew."
            )
            refused.append(_refused(submission, told))
        else:
            alone.append(submission)
    return alone


def _without_waiting(new: list[Submission], refused: list[Refused]) -> list[Submission]:
    """Put back what is later than a refused submission of the same sender and kind."""
    gaps, at_once = first_gaps(refused), []
    for submission in new:
        e = submission.envelope
        gap = gaps.get((e.sender, e.kind))
        if gap is None or e.sequence < gap:
            at_once.append(submission)
            continue
        told = (
            f"Submission {e.id} in {e.folder} waits: it says that {e.kind} of {e.sender} are complete through "
            f"{e.complete_through}, and sequence {gap} was refused. Take it in together with that one."
        )
        refused.append(_refused(submission, told))
    return at_once


def _receipt(
    connection: duckdb.DuckDBPyConnection,
    new: list[Submission],
    known: list[Submission],
    refused: list[Refused],
    late: list[Pending],
) -> Receipt:
    settled = {row[:2]: row[2:] for row in run(connection, "intake/counts_of_files")} if new else {}
    new_ids = {submission.envelope.id for submission in new}
    files = []
    for submission in sorted([*new, *known], key=lambda one: one.envelope.id):
        e = submission.envelope
        for table, file in submission.files.items():
            counts = settled[e.id, table] if e.id in new_ids else (file.rows, 0, 0, 0, file.rows)
            files.append(FileReceipt(e.id, e.sender, table, *counts))
    return Receipt(len(new) + len(known), len(new), tuple(files), tuple(refused), tuple(late))
