"""
Many small files as one: bodies written behind each other, each row under the number of its file.

Opening a file costs the database about a millisecond, and a register has thousands of them.
"""

import csv
import io
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from regdash.intake.envelope import Envelope
from regdash.intake.files import CheckedFile, quoted_rows, rows_of

# Bytes taken in at a time: what is read at once bounds the memory, not the size of the register.
BATCH_BYTES = 48_000_000


@dataclass(frozen=True)
class Submission:
    """A submission that can be taken in: its envelope and its files, checked."""

    envelope: Envelope
    files: dict[str, CheckedFile]

    @property
    def rows(self) -> int:
        """Rows of all its files."""
        return sum(file.rows for file in self.files.values())


@dataclass(frozen=True)
class Placed:
    """Where the rows of one file stand in a bundle."""

    file_no: int
    table: str
    submission: Submission
    first_row: int


def batches(submissions: list[Submission]) -> Iterator[list[Submission]]:
    """Divide submissions of one kind into batches of bounded size."""
    batch: list[Submission] = []
    size = 0
    for submission in submissions:
        batch.append(submission)
        size += sum(file.size for file in submission.files.values())
        if size >= BATCH_BYTES:
            yield batch
            batch, size = [], 0
    if batch:
        yield batch


def write_bundle(path: Path, table: str, batch: list[Submission]) -> list[Placed]:
    """Write one table's rows of a batch of submissions into one file, without a header."""
    placed, row = [], 0
    with path.open("wb") as bundle:
        for file_no, submission in enumerate(batch):
            file = submission.files[table]
            bundle.write(_numbered(file, file_no))
            placed.append(Placed(file_no, table, submission, row))
            row += file.rows
    return placed


def _numbered(file: CheckedFile, file_no: int) -> bytes:
    """Write a file's rows behind the number of the file."""
    if not file.rows:
        return b""
    body = rows_of(file)
    number = b"%d," % file_no
    if file.has_quotes:
        return _requoted(quoted_rows(body, file.table, file.path), file_no)
    return number + body[:-1].replace(b"\n", b"\n" + number) + b"\n"


def _requoted(rows: list[list[str]], file_no: int) -> bytes:
    text = io.StringIO(newline="")
    csv.writer(text, lineterminator="\n").writerows([file_no, *row] for row in rows)
    return text.getvalue().encode("utf-8")
