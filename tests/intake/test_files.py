"""
Files that cannot be taken in: each fault is one clear line, and nothing changes.

The forms of a bad file are those any CSV reader meets (RFC 4180 and UTF-8); the wordings are ours.
"""

import errno
import hashlib
import os
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import BinaryIO

import pytest

from regdash.errors import InputError, StoreError
from regdash.intake.receive import receive
from tests.intake.small_register import SmallRegister, primary, revision


def state_of(folder: Path) -> dict[str, str]:
    """Every file below a folder and a hash of its bytes."""
    files = [path for path in sorted(folder.rglob("*")) if path.is_file()]
    return {str(path.relative_to(folder)): hashlib.sha256(path.read_bytes()).hexdigest() for path in files}


@pytest.fixture(scope="module")
def taken_in(tmp_path_factory) -> Path:
    """A store with two submissions; copied by each test that could change it."""
    folder = tmp_path_factory.mktemp("taken_in")
    register = SmallRegister(folder / "in")
    register.catalogue()
    register.units()
    register.operations("2005-01-15", [primary("H001-0000001", 1, "2004-12-01")])
    receive(folder / "store", [folder / "in"])
    return folder / "store"


def rewrite(name: str, change: Callable[[bytes], bytes]) -> Callable[[Path], None]:
    def spoil(folder: Path) -> None:
        path = folder / name
        path.write_bytes(change(path.read_bytes()))

    return spoil


def swap(first: bytes, second: bytes) -> Callable[[bytes], bytes]:
    return lambda text: text.replace(first, b"\0").replace(second, first).replace(b"\0", second)


def second_row(change: Callable[[bytes], bytes]) -> Callable[[bytes], bytes]:
    def spoil(text: bytes) -> bytes:
        lines = text.split(b"\n")
        lines[2] = change(lines[2])
        return b"\n".join(lines)

    return spoil


OPERATIONS, ENVELOPE = "operations.csv", "envelope.json"
FAULTS = {
    "a missing file": (lambda folder: (folder / OPERATIONS).unlink(), "is missing, though its envelope names it"),
    "a folder where a file belongs": (
        lambda folder: ((folder / OPERATIONS).unlink(), (folder / OPERATIONS).mkdir()),
        "operations.csv cannot be read: Is a directory",
    ),
    "an empty file": (rewrite(OPERATIONS, lambda text: b""), "is empty; without rows it still has its header line"),
    "an unknown column": (rewrite(OPERATIONS, lambda text: text.replace(b"bmi", b"weight", 1)), "unknown 'weight'"),
    "a missing column": (rewrite(OPERATIONS, lambda text: text.replace(b",bmi", b"", 1)), "missing 'bmi'"),
    "swapped columns": (
        rewrite(OPERATIONS, swap(b"sex,joint", b"joint,sex")),
        "columns are in another order, 'joint' stands where 'sex' belongs",
    ),
    "a column twice": (rewrite(OPERATIONS, lambda text: text.replace(b"asa", b"sex", 1)), "repeated 'sex'"),
    "no header": (rewrite(OPERATIONS, lambda text: text.split(b"\n", 1)[1]), "a header line that is not as agreed"),
    "a Latin-1 letter": (
        rewrite(OPERATIONS, second_row(lambda row: row.replace(b"S0001", b"S\xf6001"))),
        "is not in UTF-8: line 3 has the byte 0xf6",
    ),
    "UTF-16": (rewrite(OPERATIONS, lambda text: text.decode().encode("utf-16")), "it looks like UTF-16"),
    "a NUL byte": (rewrite(OPERATIONS, second_row(lambda row: row + b"\0")), "has a NUL byte in line 3"),
    "old Macintosh line ends": (
        rewrite(OPERATIONS, lambda text: text.replace(b"\n", b"\r")),
        "a carriage return alone",
    ),
    "a file cut in a row": (
        rewrite(OPERATIONS, lambda text: text[:-20]),
        "ends in the middle of line 3; it was cut short",
    ),
    "a file cut between rows": (
        rewrite(OPERATIONS, lambda text: text[: text[:-1].rindex(b"\n") + 1]),
        "has 1 rows where its envelope declares 2",
    ),
    "a row too short": (
        rewrite(OPERATIONS, second_row(lambda row: row[1:].replace(b",", b"", 1))),
        "line 3 has 32 cells",
    ),
    "a row too long": (rewrite(OPERATIONS, second_row(lambda row: row + b",")), "line 3 has 34 cells"),
    "a row too long and one too short": (
        rewrite(OPERATIONS, lambda text: second_row(lambda row: row + b",")(text).replace(b"total,", b"total", 1)),
        "line 2 has 32 cells",
    ),
    "a line without end": (
        rewrite(OPERATIONS, second_row(lambda row: row.replace(b"S0001", b"S" * 3_000_000))),
        "bytes in line 3; no row is that long",
    ),
    "a blank line": (rewrite(OPERATIONS, lambda text: text + b"\n"), "line 4 has 0 cells"),
    "a quoted row too short": (
        rewrite(OPERATIONS, second_row(lambda row: b'"' + row.replace(b",", b'",', 1).replace(b"knee,", b"knee"))),
        "line 3 has 32 cells",
    ),
    "a quote that does not end": (
        rewrite(OPERATIONS, second_row(lambda row: row.replace(b"S0001", b'"S0001'))),
        "cannot be read at line",
    ),
    "a cell over two lines": (
        rewrite(OPERATIONS, second_row(lambda row: row.replace(b"S0001", b'"S00\n01"'))),
        "a cell that runs over the end of line 3",
    ),
    "an envelope that is no JSON": (rewrite(ENVELOPE, lambda text: text[:-1]), "is not readable JSON"),
    "an envelope that is a list": (rewrite(ENVELOPE, lambda text: b"[]"), "is not a JSON object"),
    "an envelope in Latin-1": (rewrite(ENVELOPE, lambda text: b"\xe4" + text), "is not readable JSON in UTF-8"),
    "an envelope without a sender": (
        rewrite(ENVELOPE, lambda text: text.replace(b'"sender": "H001", ', b"")),
        "does not say: sender",
    ),
    "an envelope of another schema": (
        rewrite(ENVELOPE, lambda text: text.replace(b'"schema": "2"', b'"schema": "9"')),
        "is of schema '9'",
    ),
    "an unknown kind": (
        rewrite(ENVELOPE, lambda text: text.replace(b'"operations", "sender"', b'"hips", "sender"')),
        "of the unknown kind 'hips'",
    ),
    "an impossible date": (
        rewrite(ENVELOPE, lambda text: text.replace(b"2005-04-15", b"2005-04-31", 1)),
        "has a received_date that is no date",
    ),
    "a date of another form": (
        rewrite(ENVELOPE, lambda text: text.replace(b"2005-04-15", b"20050415", 1)),
        "has a received_date that is no date",
    ),
    "complete before it is received": (
        rewrite(ENVELOPE, lambda text: text.replace(b'"complete_through": "2005', b'"complete_through": "2006')),
        "after the day it was received",
    ),
    "a count that is a word": (
        rewrite(ENVELOPE, lambda text: text.replace(b'"operations.csv": 2', b'"operations.csv": "two"')),
        "not a whole number: 'two'",
    ),
    "a file that does not belong": (
        rewrite(ENVELOPE, lambda text: text.replace(b"reasons.csv", b"comments.csv")),
        "names the files comments.csv, components.csv, operations.csv",
    ),
}


@pytest.fixture
def submission(tmp_path) -> Path:
    register = SmallRegister(tmp_path / "in")
    rows = [primary("H001-0000002", 2, "2005-02-01"), revision("H001-0000003", 1, "2005-03-01")]
    return register.operations("2005-04-15", rows, sequence=2)


@pytest.mark.parametrize("fault", FAULTS)
def test_a_bad_file_is_one_clear_line_and_nothing_changes(fault, submission, taken_in, tmp_path):
    spoil, expected = FAULTS[fault]
    spoil(submission)
    store = tmp_path / "store"
    shutil.copytree(taken_in, store)
    before = state_of(store)
    with pytest.raises(InputError) as refused:
        receive(store, [submission])
    assert expected in str(refused.value)
    assert "\n" not in str(refused.value)
    assert str(submission) in str(refused.value)
    assert state_of(store) == before


def test_a_bad_file_makes_no_store(submission, tmp_path):
    (submission / OPERATIONS).write_bytes(b"")
    with pytest.raises(InputError):
        receive(tmp_path / "new" / "store", [submission])
    assert not (tmp_path / "new").exists()


def test_one_bad_file_keeps_the_good_ones_beside_it_out_and_further_faults_are_counted(submission, taken_in, tmp_path):
    for name in ("components.csv", "reasons.csv"):
        (submission / name).write_bytes(b"")
    store = tmp_path / "store"
    shutil.copytree(taken_in, store)
    before = state_of(store)
    with pytest.raises(InputError, match=r"components.csv is empty.* 1 more file has a fault\. Nothing was taken in\."):
        receive(store, [submission])
    assert state_of(store) == before


def test_an_unreadable_file_is_refused(submission, taken_in, monkeypatch):
    """Permissions stop nobody who runs the tests as the superuser, so the refusal is the system's own, played back."""

    def refuse(path: str, mode: str) -> BinaryIO:
        if path.endswith(".csv"):
            raise PermissionError(errno.EACCES, os.strerror(errno.EACCES), path)
        return open(path, mode)

    monkeypatch.setattr("regdash.intake.files.open", refuse, raising=False)
    with pytest.raises(InputError, match=r"operations.csv cannot be read: Permission denied"):
        receive(taken_in, [submission])


def test_a_path_that_is_not_there_is_refused(taken_in, tmp_path):
    with pytest.raises(InputError, match=r"There is no file or folder .*nowhere"):
        receive(taken_in, [tmp_path / "nowhere"])


def test_a_folder_without_submissions_is_refused(taken_in, tmp_path):
    with pytest.raises(InputError, match="There is no submission in"):
        receive(taken_in, [tmp_path])


def test_a_file_that_is_no_submission_is_refused(submission, taken_in):
    with pytest.raises(InputError, match="is not a submission"):
        receive(taken_in, [submission / OPERATIONS])


def test_the_same_submission_with_other_content_is_refused(submission, taken_in, tmp_path):
    store = tmp_path / "store"
    shutil.copytree(taken_in, store)
    receive(store, [submission])
    before = state_of(store)
    path = submission / OPERATIONS
    path.write_bytes(path.read_bytes().replace(b"aspirin", b"none"))
    with pytest.raises(InputError, match=r"Submission H001-0002 in .* differs from the one of the same id"):
        receive(store, [submission])
    assert state_of(store) == before


def test_two_submissions_of_one_sequence_are_refused(submission, taken_in, tmp_path):
    path = submission / ENVELOPE
    path.write_bytes(path.read_bytes().replace(b'"sequence": 2', b'"sequence": 1'))
    with pytest.raises(InputError, match="has sequence 1, which H001-0001 of the same sender has"):
        receive(taken_in, [submission])


WRITTEN_OTHERWISE = {
    "CR LF": lambda text: text.replace(b"\n", b"\r\n"),
    "a byte-order mark": lambda text: b"\xef\xbb\xbf" + text,
    "both": lambda text: b"\xef\xbb\xbf" + text.replace(b"\n", b"\r\n"),
    "quotes around every cell": lambda text: b"".join(
        b",".join(b'"' + cell + b'"' for cell in line.split(b",")) + b"\n" for line in text.splitlines()
    ),
}


@pytest.mark.parametrize("form", WRITTEN_OTHERWISE)
def test_the_same_rows_written_otherwise_are_the_same_rows(form, submission, taken_in, tmp_path):
    """RFC 4180 allows CR LF and quotes; spreadsheets add a byte-order mark."""
    for name in (OPERATIONS, "components.csv"):
        path = submission / name
        path.write_bytes(WRITTEN_OTHERWISE[form](path.read_bytes()))
    store = tmp_path / "store"
    shutil.copytree(taken_in, store)
    receipt = receive(store, [submission])
    assert [(file.table, file.received, file.accepted) for file in receipt.files] == [
        ("operations", 2, 2),
        ("components", 4, 4),
        ("reasons", 1, 1),
    ]


def test_a_store_may_have_any_name(submission, tmp_path):
    """The database takes stars and brackets in the names of CSV files for patterns."""
    receipt = receive(tmp_path / "reg[1]*'s", [submission])
    assert receipt.total("received") == 7


def test_a_store_with_a_question_mark_in_its_path_is_refused(submission, tmp_path):
    with pytest.raises(StoreError, match="its path has a question mark"):
        receive(tmp_path / "which?" / "store", [submission])
    assert not (tmp_path / "which?").exists()
