"""
The form of files that go back to a hospital: a submission's own columns and one more, which says why a row comes back.

A cell that a spreadsheet would take for a formula has an apostrophe in front. A file that has the last column is read
without it, and such an apostrophe is taken away again: every cell is then what it was.
"""

import csv
import io
import re

from regdash.dictionary import TABLES
from regdash.errors import InputError

# Not "reason": the file of reasons has a column of that name.
COLUMN = "returned_because"
FORMULA_SIGNS = "=+-@\t\r"
_GUARDED = re.compile(f"'*[{re.escape(FORMULA_SIGNS)}]")
_MARK = "\ufeff"


def guarded(cell: str) -> str:
    """
    Put an apostrophe in front of what a spreadsheet would take for a formula, and of what looks guarded already.

    >>> guarded("-5"), guarded("'-5"), guarded("5")
    ("'-5", "''-5", '5')
    """
    return f"'{cell}" if _GUARDED.match(cell) else cell


def unguarded(cell: str) -> str:
    """
    Take the apostrophe away again: `unguarded(guarded(cell))` is the cell, whatever it is.

    >>> unguarded("'-5"), unguarded("''-5"), unguarded("'tis"), unguarded("-5")
    ('-5', "'-5", "'tis", '-5')
    """
    return cell[1:] if cell.startswith("'") and _GUARDED.match(cell) else cell


def is_returned(content: bytes) -> bool:
    """Tell a file that came back by its header line."""
    header = content[: content.find(b"\n") + 1].rstrip(b"\r\n")
    return header.replace(b'"', b"").endswith(f",{COLUMN}".encode())


def as_submitted(content: bytes, path: str, table: str) -> bytes:
    """
    Write a file that came back as the submission that it stands for; whatever else is wrong with it stays.

    Raises:
        InputError: a row has another number of cells than the header, or the quotes cannot be read.
    """
    try:
        text = content.decode("utf-8").removeprefix(_MARK)
    except UnicodeDecodeError:
        return content  # the check of the whole file says where
    wanted = len(TABLES[table]) + 1
    written = io.StringIO(newline="")
    writer = csv.writer(written, lineterminator="\n")
    reader = csv.reader(io.StringIO(text, newline=""), strict=True)
    try:
        for row in reader:
            if len(row) != wanted:
                told = f"line {reader.line_num} has {len(row)} cells where a file that comes back has {wanted}"
                raise InputError(f"The file {path} is ragged: {told}. Correct it.")
            writer.writerow([unguarded(cell) for cell in row[:-1]])
    except csv.Error as fault:
        raise InputError(
            f"The file {path} cannot be read at line {reader.line_num + 1}: {fault}. Correct it."
        ) from None
    whole = written.getvalue()
    return (whole if text.endswith("\n") else whole.rstrip("\n")).encode("utf-8")
