"""What editions withhold from their recipients, written down for the office alone: never into a recipient's folder."""

import csv
import io
from collections.abc import Sequence
from dataclasses import astuple, dataclass, fields
from pathlib import Path

from regdash.errors import SummaryError
from regdash.output.wording import NONE


@dataclass(frozen=True)
class Kept:
    """One figure that a recipient does not get because it tells a small count."""

    recipient: str
    table: str
    row: str
    column: str
    count: int | None  # that it tells; None where no one count stands for it
    why: str


def refuse_inside(file: Path, folder: Path) -> None:
    """
    Refuse a file for the office in a folder that goes to a recipient, or one that there is already.

    Raises:
        SummaryError: it is so.
    """
    if file.resolve().is_relative_to(folder.resolve()):
        raise SummaryError(f"{file} is for the office alone and may not stand in {folder}, which goes out.")
    if file.exists():
        raise SummaryError(f"{file} is there already. Name another file.")


def write_kept(file: Path, kept: Sequence[Kept]) -> None:
    """
    Write what was withheld, and why, as CSV.

    Raises:
        SummaryError: the file cannot be written.
    """
    text = io.StringIO(newline="")
    lines = csv.writer(text, lineterminator="\n")
    lines.writerow(field.name for field in fields(Kept))
    lines.writerows([NONE if value is None else value for value in astuple(one)] for one in kept)
    try:
        with file.open("x", encoding="utf-8", newline="") as out:
            out.write(text.getvalue())
    except OSError as fault:
        raise SummaryError(f"{file} cannot be written: {fault.strerror or fault}") from None
