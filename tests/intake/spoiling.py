"""Ways to spoil a file of a good submission, or its envelope."""

import io
import json
import zipfile
from collections.abc import Callable
from pathlib import Path

from regdash.dictionary import TABLES
from tests.intake.small_register import SmallRegister, primary

Spoil = Callable[[Path], None]
OPERATIONS, COMPONENTS, REASONS, ENVELOPE = "operations.csv", "components.csv", "reasons.csv", "envelope.json"
FILES = (OPERATIONS, COMPONENTS, REASONS, ENVELOPE)
ROWS = 3
NAMES = TABLES["operations"]
WIDTH = len(NAMES)


def write_good(folder: Path, hospital: str, sequence: int = 1) -> Path:
    """Write a submission without a fault."""
    first = 1000 * int(hospital[1:]) + 10 * sequence  # each hospital has patients of its own
    rows = [primary(f"{hospital}-{sequence}{n}", first + n, "2005-02-01") for n in range(ROWS)]
    register = SmallRegister(folder)
    return register.operations("2005-04-15", rows, hospital=hospital, sequence=sequence)


def rewritten(name: str, change: Callable[[bytes], bytes]) -> Spoil:
    """Change the bytes of one file."""

    def spoil(folder: Path) -> None:
        path = folder / name
        path.write_bytes(change(path.read_bytes()))

    return spoil


def in_row(change: Callable[[bytes], bytes], name: str = OPERATIONS, row: int = 2) -> Spoil:
    """Change the bytes of one row."""

    def spoil(text: bytes) -> bytes:
        lines = text.split(b"\n")
        lines[row] = change(lines[row])
        return b"\n".join(lines)

    return rewritten(name, spoil)


def in_header(change: Callable[[bytes], bytes], name: str = OPERATIONS) -> Spoil:
    return in_row(change, name, 0)


def recoded(encoding: str) -> Spoil:
    return rewritten(OPERATIONS, lambda text: text.decode().replace("medial", "médial").encode(encoding))


def in_place(make: Callable[[Path], object], name: str = OPERATIONS) -> Spoil:
    """Put something else in the place of a file."""

    def spoil(folder: Path) -> None:
        (folder / name).unlink()
        make(folder / name)

    return spoil


def zipped(text: bytes) -> bytes:
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as archive:
        archive.writestr(OPERATIONS, text)
    return packed.getvalue()


def of_envelope(**changes: object) -> Spoil:
    """Change what an envelope says; None takes a field out."""

    def change(text: bytes) -> bytes:
        said = json.loads(text) | changes
        return json.dumps({name: value for name, value in said.items() if value is not None}).encode()

    return rewritten(ENVELOPE, change)


def columns(text: bytes) -> list[list[bytes]]:
    return [line.split(b",") for line in text.split(b"\n")[:-1]]


def joined(rows: list[list[bytes]]) -> bytes:
    return b"".join(b",".join(row) + b"\n" for row in rows)


def moved(text: bytes) -> bytes:
    rows = columns(text)
    return joined([[row[-1], *row[:-1]] for row in rows])


def trailing(empty: int) -> Callable[[bytes], bytes]:
    return lambda text: text.replace(b"\n", b"," * empty + b"\n")


def loop(path: Path) -> None:
    path.symlink_to(path.with_name("again"))
    path.with_name("again").symlink_to(path)


def cell(column: bytes, value: bytes) -> Spoil:
    """Set one cell of the second operation."""

    def change(text: bytes) -> bytes:
        rows = columns(text)
        rows[2][rows[0].index(column)] = value
        return joined(rows)

    return rewritten(OPERATIONS, change)


_DAY, _BORN, _BMI, _ID = b"operation_date", b"birth_year", b"bmi", b"operation_id"
