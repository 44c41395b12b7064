"""
One submitted file as bytes: whether it is what its envelope says, before any of it is taken in.

All that can be wrong with a file as a whole is found here, and named in one sentence; what is wrong
with single rows is for the rules.
"""

import csv
import hashlib
import io
from dataclasses import dataclass

from regdash.dictionary import TABLES
from regdash.errors import InputError

LONGEST_LINE = 100_000  # bytes; more is no row but a fault, and the database has a limit of its own
_MARK = b"\xef\xbb\xbf"  # a byte-order mark, which spreadsheets put in front of UTF-8
_OTHER_ENCODINGS = (b"\xff\xfe", b"\xfe\xff")  # UTF-16, which they call Unicode


@dataclass(frozen=True)
class CheckedFile:
    """A file that can be taken in."""

    table: str
    path: str
    sha256: str
    size: int  # bytes
    rows: int
    has_quotes: bool


def read_bytes(path: str) -> bytes:
    """
    Read a whole file.

    Raises:
        InputError: it is missing or cannot be read.
    """
    try:
        with open(path, "rb") as file:
            return file.read()
    except FileNotFoundError:
        raise InputError(f"The file {path} is missing, though its envelope names it.") from None
    except OSError as fault:
        raise InputError(f"The file {path} cannot be read: {fault.strerror}.") from None


def check_file(path: str, table: str, declared: int) -> CheckedFile:
    """
    Check one file as a whole.

    Raises:
        InputError: it is missing, empty, cut short, in another encoding, has other columns or ragged
            rows, or another number of rows than declared.
    """
    raw = read_bytes(path)
    text = plain(raw, path)
    has_quotes = b'"' in text
    header, _, body = text.partition(b"\n")
    _check_header(header, table, path)
    _check_end(text, path)
    rows = _count_quoted(body, table, path) if has_quotes else _count_plain(body, table, path)
    if rows != declared:
        raise InputError(f"The file {path} has {rows:,} rows where its envelope declares {declared:,}.")
    return CheckedFile(table, path, hashlib.sha256(raw).hexdigest(), len(raw), rows, has_quotes)


def plain(raw: bytes, path: str) -> bytes:
    """
    Strip what different systems add to the same text: a byte-order mark, carriage returns before line ends.

    Raises:
        InputError: it is empty, or not text in UTF-8.
    """
    if not raw:
        raise InputError(f"The file {path} is empty; without rows it still has its header line.")
    if raw.startswith(_OTHER_ENCODINGS):
        raise InputError(f"The file {path} is not in UTF-8; it looks like UTF-16. Save it again as UTF-8.")
    if b"\0" in raw:
        raise InputError(f"The file {path} has a NUL byte in line {_line_at(raw, raw.index(0))}; it is not text.")
    _check_encoding(raw, path)
    text = raw.removeprefix(_MARK).replace(b"\r\n", b"\n")
    if b"\r" in text:
        line = _line_at(text, text.index(b"\r"))
        raise InputError(f"The file {path} has a carriage return alone in line {line}; lines end with LF or CR LF.")
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
    try:
        found = next(csv.reader([header.decode("utf-8")], strict=True), [])
    except csv.Error:
        found = header.decode("utf-8").split(",")
    if tuple(found) != wanted:
        raise InputError(f"The file {path} has a header line that is not as agreed: {_difference(found, wanted)}.")


def _difference(found: list[str], wanted: tuple[str, ...]) -> str:
    unknown = [name for name in found if name not in wanted]
    missing = [name for name in wanted if name not in found]
    twice = sorted({name for name in found if found.count(name) > 1})
    parts = [
        f"{what} {', '.join(repr(name) for name in names[:5])}"
        for what, names in (("unknown", unknown), ("missing", missing), ("repeated", twice))
        if names
    ]
    if not parts:
        moved = [f"{has!r} stands where {should!r} belongs" for has, should in zip(found, wanted) if has != should]
        parts = [f"columns are in another order, {moved[0]}"]
    return "; ".join(parts)


def _check_end(text: bytes, path: str) -> None:
    if not text.endswith(b"\n"):
        line = text.count(b"\n") + 1
        raise InputError(f"The file {path} ends in the middle of line {line}; it was cut short.")


def _count_plain(body: bytes, table: str, path: str) -> int:
    """Count rows where no cell is quoted, so that every comma and every line end counts."""
    commas = len(TABLES[table]) - 1
    lines = body.split(b"\n")
    lines.pop()
    ragged = next((n for n, line in enumerate(lines) if line.count(b",") != commas), None)
    if ragged is not None:
        raise _ragged(path, ragged + 2, lines[ragged].count(b",") + 1 if lines[ragged] else 0, commas + 1)
    longest = max(map(len, lines), default=0)
    if longest > LONGEST_LINE:
        line = next(n for n, text in enumerate(lines) if len(text) == longest) + 2
        raise InputError(f"The file {path} has {longest:,} bytes in line {line}; no row is that long.")
    return len(lines)


def _ragged(path: str, line: int, cells: int, wanted: int) -> InputError:
    return InputError(f"The file {path} is ragged: line {line} has {cells} cells where the header has {wanted}.")


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
                raise InputError(f"The file {path} has a cell that runs over the end of line {len(rows) + 2}.")
            rows.append(row)
    except csv.Error as fault:
        raise InputError(f"The file {path} cannot be read at line {reader.line_num + 1}: {fault}.") from None
    return rows
