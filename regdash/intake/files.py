"""
One submitted file as bytes: whether it is what its envelope says, before any of it is taken in.

All that can be wrong with a file as a whole is found here, and named in one sentence; what is wrong
with single rows is for the rules.
"""

import csv
import hashlib
import io
import os
import re
import stat
from dataclasses import dataclass
from itertools import islice

from regdash.dictionary import TABLES
from regdash.errors import InputError
from regdash.intake import parquet, returned
from regdash.intake.pseudonyms import Naming

LONGEST_LINE = 100_000  # bytes; more is no row but a fault, and the database has a limit of its own
_MARK = b"\xef\xbb\xbf"  # a byte-order mark, which spreadsheets put in front of UTF-8
_OTHER_ENCODINGS = (b"\xff\xfe", b"\xfe\xff")  # UTF-16, which they call Unicode
# How files begin that are something else, whatever their name.
_DISGUISES = {
    b"PK\x03\x04": "a zip archive or a spreadsheet",
    b"\xd0\xcf\x11\xe0": "a spreadsheet",
    b"\x1f\x8b": "compressed with gzip",
    b"PAR1": "a Parquet file",
    b"%PDF": "a PDF document",
}
_NAMED = 5  # names of columns in one sentence, at most
_DIVIDERS = {";": "semicolons", "\t": "tabs", "|": "bars"}
_NAME_OF_COLUMN = re.compile(r"[^\W\d]{1,40}(?:[ _-][^\W\d]{1,40}){0,4}")  # anything else may be a patient's


@dataclass(frozen=True)
class CheckedFile:
    """A file that can be taken in."""

    table: str
    path: str
    sha256: str
    size: int  # bytes
    rows: int
    has_quotes: bool
    naming: Naming | None = None  # how its patient numbers become pseudonyms; none where it has pseudonyms


def read_bytes(path: str, what: str = "file") -> bytes:
    """
    Read a whole file that nobody is writing.

    Raises:
        InputError: it is missing, is no file, cannot be read, or changed meanwhile.
    """
    try:
        if not stat.S_ISREG(os.stat(path).st_mode) and not os.path.isdir(path):  # a pipe would be waited for
            raise InputError(f"The {what} {path} is not a file but a pipe or a device. Put the file itself there.")
        with open(path, "rb") as file:
            before = os.fstat(file.fileno())
            content = file.read()
            after = os.fstat(file.fileno())
    except FileNotFoundError:
        raise InputError(f"The {what} {path} is missing, though its envelope names it. Send it too.") from None
    except OSError as fault:
        raise InputError(f"The {what} {path} cannot be read: {fault.strerror}.") from None
    if (before.st_size, before.st_mtime_ns) != (after.st_size, after.st_mtime_ns) or len(content) != after.st_size:
        raise _changed(path, what)
    return content


def _changed(path: str, what: str = "file") -> InputError:
    return InputError(f"The {what} {path} changed while it was read. Take it in once it has been written to its end.")


def check_file(path: str, table: str, declared: int, naming: Naming | None = None) -> CheckedFile:
    """
    Check one file as a whole.

    A Parquet file is checked as the CSV that it stands for, and has the hash of that. Where a file names patients by
    numbers, its hash is that of its rows under pseudonyms: a hash without a key would tell a patient's number to
    whoever tries them all.

    Raises:
        InputError: it is missing, empty, cut short, in another encoding, has other columns or ragged
            rows, or another number of rows than declared.
    """
    raw = _read(path, table)
    text = plain(raw, path)
    has_quotes = b'"' in text
    header, _, body = text.partition(b"\n")
    _check_header(header, table, path)
    _check_end(text, path)
    _check_lengths(body, path)
    rows = _count_quoted(body, table, path) if has_quotes else _count_plain(body, table, path)
    if rows != declared:
        raise InputError(
            f"The file {path} has {rows:,} rows where its envelope declares {declared:,}. "
            "Send the whole file, or correct the envelope."
        )
    naming = naming if "patient_id" in TABLES[table] else None
    stored = _renamed(body, table, path, has_quotes, naming) if naming else raw
    return CheckedFile(table, path, hashlib.sha256(stored).hexdigest(), len(raw), rows, has_quotes, naming)


def _read(path: str, table: str) -> bytes:
    """Read a file as CSV, whichever of the two forms it has."""
    content = read_bytes(path)
    if not path.endswith(f".{parquet.ENDING}"):
        return returned.as_submitted(content, path, table) if returned.is_returned(content) else content
    text = parquet.as_csv(content, path, table)
    if read_bytes(path) != content:  # the database read it by itself
        raise _changed(path)
    return text


def rows_of(file: CheckedFile) -> bytes:
    """
    Read the rows of a checked file again, its patients under pseudonyms, without the header.

    Raises:
        InputError: they are not those that were checked.
    """
    raw = _read(file.path, file.table)
    naming, has_quotes = file.naming, file.has_quotes
    if not naming and hashlib.sha256(raw).hexdigest() != file.sha256:
        raise _changed(file.path)
    _, _, body = plain(raw, file.path).partition(b"\n")
    if not naming:
        return body
    body = _renamed(body, file.table, file.path, has_quotes, naming)
    if hashlib.sha256(body).hexdigest() != file.sha256:
        raise _changed(file.path)
    return body


def _renamed(body: bytes, table: str, path: str, has_quotes: bool, naming: Naming) -> bytes:
    """Put pseudonyms in the place of patient numbers."""
    place = TABLES[table].index("patient_id")
    if not has_quotes:
        lines = [line.split(b",", place + 1) for line in body.split(b"\n")[:-1]]
        for cells in lines:
            cells[place] = naming.of(cells[place].decode("utf-8")).encode("ascii")
        return b"".join(b",".join(cells) + b"\n" for cells in lines)
    rows = quoted_rows(body, table, path)
    for row in rows:
        row[place] = naming.of(row[place])
    text = io.StringIO(newline="")
    csv.writer(text, lineterminator="\n").writerows(rows)
    return text.getvalue().encode("utf-8")


def plain(raw: bytes, path: str) -> bytes:
    """
    Strip what different systems add to the same text: a byte-order mark, carriage returns before line ends.

    Raises:
        InputError: it is empty, or not text in UTF-8.
    """
    if not raw:
        raise InputError(f"The file {path} is empty; without rows it still has its header line.")
    disguise = next((what for begins, what in _DISGUISES.items() if raw.startswith(begins)), None)
    if disguise:
        raise InputError(f"The file {path} is not CSV but {disguise}. Save it again as CSV in UTF-8.")
    if raw.startswith(_OTHER_ENCODINGS):
        raise InputError(f"The file {path} is not in UTF-8; it looks like UTF-16. Save it again as UTF-8.")
    if b"\0" in raw:
        raise InputError(
            f"The file {path} has a NUL byte in line {_line_at(raw, raw.index(0))}; it is not text. "
            "Save it again as CSV in UTF-8."
        )
    _check_encoding(raw, path)
    text = raw.removeprefix(_MARK).replace(b"\r\n", b"\n")
    if b"\r" in text:
        line = _line_at(text, text.index(b"\r"))
        raise InputError(
            f"The file {path} has a carriage return alone in line {line}; lines end with LF or CR LF. Save it again."
        )
    return text


def _line_at(text: bytes, position: int) -> int:
    return text.count(b"\n", 0, position) + 1


def _check_encoding(raw: bytes, path: str) -> None:
    if raw.isascii():
        return
    try:
        raw.decode("utf-8")
    except UnicodeDecodeError as fault:
        raise InputError(
            f"The file {path} is not in UTF-8: line {_line_at(raw, fault.start)} has the byte "
            f"0x{raw[fault.start]:02x}. Save it again as UTF-8."
        ) from None


def _check_header(header: bytes, table: str, path: str) -> None:
    wanted = TABLES[table]
    if header == ",".join(wanted).encode():
        return
    text = header.decode("utf-8")
    try:
        found = next(csv.reader([text], strict=True), [])
    except csv.Error:
        found = text.split(",")
    if tuple(found) != wanted:
        raise InputError(
            f"The file {path} has a header line that is not as agreed: {_difference(text, found, wanted)}."
        )


def _difference(text: str, found: list[str], wanted: tuple[str, ...]) -> str:
    if text.strip('"').lower().startswith("sep="):
        return "it begins with the line 'sep=' of a spreadsheet; leave that line out"
    divided = next((name for sign, name in _DIVIDERS.items() if _names(text.split(sign)) & set(wanted)), None)
    if divided and len(found) < len(wanted):
        return f"its columns are divided by {divided}; save it again with commas"
    if not _names(found) & set(wanted):
        return f"its first line names none of the columns; put {','.join(wanted[:3])},… there"
    return _difference_of_names(found, wanted)


def _names(found: list[str]) -> set[str]:
    return {name.strip().strip('"') for name in found}


def _difference_of_names(found: list[str], wanted: tuple[str, ...]) -> str:
    strange = ((n, name) for n, name in enumerate(found, 1) if name not in wanted)
    unknown = [_shown(name, n) for n, name in islice(strange, _NAMED)]
    missing = [repr(name) for name in wanted if name not in found]
    twice = [repr(name) for name in wanted if found.count(name) > 1]
    groups = (("unknown", unknown), ("missing", missing), ("repeated", twice))
    parts = [f"{what} {', '.join(names[:_NAMED])}" for what, names in groups if names]
    if not parts:
        moved = [f"{has!r} stands where {should!r} belongs" for has, should in zip(found, wanted) if has != should]
        parts = [f"columns are in another order, {moved[0]}"]
    return "; ".join(parts)


def _shown(name: str, place: int) -> str:
    """Show an unknown name if it can be nothing but a name: what stands there might be a patient's."""
    if not name.strip():
        return f"column {place} without a name"
    return repr(name) if _NAME_OF_COLUMN.fullmatch(name) else f"name of column {place}"


def _check_end(text: bytes, path: str) -> None:
    if not text.endswith(b"\n"):
        line = text.count(b"\n") + 1
        raise InputError(f"The file {path} ends in the middle of line {line}; it was cut short. Send it whole.")


def _check_lengths(body: bytes, path: str) -> None:
    lines = body.split(b"\n")
    longest = max(map(len, lines))
    if longest > LONGEST_LINE:
        line = next(n for n, text in enumerate(lines) if len(text) == longest) + 2
        raise InputError(
            f"The file {path} has {longest:,} bytes in line {line}; no row is that long. Correct that line."
        )


def _count_plain(body: bytes, table: str, path: str) -> int:
    """Count rows where no cell is quoted, so that every comma and every line end counts."""
    commas = len(TABLES[table]) - 1
    lines = body.split(b"\n")
    lines.pop()
    ragged = next((n for n, line in enumerate(lines) if line.count(b",") != commas), None)
    if ragged is not None:
        raise _ragged(path, ragged + 2, lines[ragged].count(b",") + 1 if lines[ragged] else 0, commas + 1)
    return len(lines)


def _ragged(path: str, line: int, cells: int, wanted: int) -> InputError:
    return InputError(
        f"The file {path} is ragged: line {line} has {cells} cells where the header has {wanted}. Correct it."
    )


def _count_quoted(body: bytes, table: str, path: str) -> int:
    return sum(1 for _ in quoted_rows(body, table, path))


def quoted_rows(body: bytes, table: str, path: str) -> list[list[str]]:
    """
    Read rows, some cells of which are quoted.

    Raises:
        InputError: a row is ragged, a quote is not closed, or a cell runs over a line's end.
    """
    wanted = len(TABLES[table])
    reader = csv.reader(io.StringIO(body.decode("utf-8"), newline=""), strict=True)
    rows: list[list[str]] = []
    try:
        for row in reader:
            if len(row) != wanted:
                raise _ragged(path, reader.line_num + 1, len(row), wanted)
            if reader.line_num != len(rows) + 1:
                line = len(rows) + 2
                raise InputError(
                    f"The file {path} has a cell that runs over the end of line {line}. Take the line end out."
                )
            rows.append(row)
    except csv.Error as fault:
        raise InputError(
            f"The file {path} cannot be read at line {reader.line_num + 1}: {fault}. Correct the quotes."
        ) from None
    return rows
