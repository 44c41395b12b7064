"""
Envelopes: which submissions stand under a path, and what each says of itself.
"""

import json
import os
import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

from regdash.dictionary import (
    ENVELOPE_FIELDS,
    ENVELOPE_NAME,
    KINDS,
    OFFICE,
    OPTIONAL_FIELDS,
    PATIENT_FORM,
    PATIENT_NUMBERS,
    SCHEMA_VERSION,
)
from regdash.errors import InputError
from regdash.intake.files import read_bytes
from regdash.intake.parquet import ENDING as PARQUET
from regdash.intake.refusals import Place, Refused

# Units and catalogue entries may be announced before their first day; what happens to patients cannot be.
KNOWN_AHEAD = ("units", "catalogue")

ENDINGS = (".csv", f".{PARQUET}")  # of the files of a submission

LONGEST_TEXT = 100  # characters of a code in an envelope, and of what is shown of one that cannot be used

LONGEST_REASON = 300  # characters

_DATE = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")  # of the forms of ISO 8601, the one that files have too


@dataclass(frozen=True)
class Envelope:
    """What a submission says of itself, and the folder it stands in."""

    folder: str
    kind: str
    sender: str
    id: str
    sequence: int
    received_date: date
    complete_through: date
    files: dict[str, int]  # rows declared, by table
    patient_numbers: str = PATIENT_NUMBERS[0]  # one of PATIENT_NUMBERS
    in_parquet: frozenset[str] = frozenset()  # tables that came as Parquet
    reason_for_correction: str = ""  # why what was sent before is corrected; empty where the envelope does not say

    @property
    def place(self) -> Place:
        """Where it stands among those of its sender and kind."""
        return Place(self.sender, self.kind, self.sequence)

    def path_of(self, table: str) -> str:
        """Where a table's file stands."""
        return f"{self.folder}/{table}.{PARQUET if table in self.in_parquet else 'csv'}"


def find_submissions(paths: list[Path]) -> tuple[list[Envelope], list[Refused]]:
    """
    Read every envelope below the paths, each folder once, ordered by id; and list those that cannot be used.

    Raises:
        InputError: a path is missing or holds no envelope.
    """
    folders: dict[str, None] = {}
    for path in paths:
        found = list(_folders_below(path))
        if not found:
            raise InputError(f"There is no submission in {path}: no folder below it has an {ENVELOPE_NAME}.")
        folders |= dict.fromkeys(found)
    envelopes: list[Envelope] = []
    refused: list[Refused] = []
    for folder in folders:
        try:
            envelopes.append(read_envelope(folder))
        except InputError as fault:
            refused.append(Refused(folder, str(fault), _place_said(folder)))
    envelopes.sort(key=lambda envelope: (envelope.id, envelope.folder))
    return envelopes, sorted(refused, key=lambda one: one.folder)


def _place_said(folder: str) -> Place | None:
    """Tell whose a faulty envelope is and which of theirs, as far as it can be read."""
    path = f"{folder}/{ENVELOPE_NAME}"
    try:
        said = _read_object(path)
        sequence = _count(said.get("sequence"), "sequence", path)
        return Place(_text(said, "sender", path), _kind(said.get("kind"), path), sequence)
    except InputError:
        return None


# Folders are plain text here and not paths: a register has ten thousand of them.


def _folders_below(path: Path) -> Iterator[str]:
    if path.name == ENVELOPE_NAME and path.is_file():
        path = path.parent
    if not path.exists():
        raise InputError(f"There is no file or folder {path}. Name the folder that holds the submissions.")
    if not path.is_dir():
        raise InputError(f"{path} is not a submission. Name the folder with its {ENVELOPE_NAME}, or one above it.")

    def refuse(fault: OSError) -> None:
        raise InputError(f"The folder {fault.filename} cannot be read: {fault.strerror}.")

    for folder, _, files in os.walk(path.resolve(), onerror=refuse):
        if ENVELOPE_NAME in files:
            yield folder


def read_envelope(folder: str) -> Envelope:
    """
    Read the envelope of one submission.

    Raises:
        InputError: it cannot be read, says too little or too much, or contradicts itself.
    """
    path = f"{folder}/{ENVELOPE_NAME}"
    said = _read_object(path)
    _check_fields(said, path)
    envelope = Envelope(
        folder=folder,
        kind=_kind(said["kind"], path),
        sender=_text(said, "sender", path),
        id=_text(said, "id", path),
        sequence=_count(said["sequence"], "sequence", path),
        received_date=_day(said, "received_date", path),
        complete_through=_day(said, "complete_through", path),
        files=_declared(said, path),
        patient_numbers=_patient_numbers(said, path),
        in_parquet=_in_parquet(said),
        reason_for_correction=_reason(said, path),
    )
    if envelope.kind not in KNOWN_AHEAD and envelope.complete_through > envelope.received_date:
        raise InputError(
            f"The envelope {path} says it is complete through {envelope.complete_through}, "
            f"after the day it was received, {envelope.received_date}."
        )
    return envelope


def _read_object(path: str) -> dict[str, Any]:
    try:
        said = json.loads(read_bytes(path, "envelope").decode("utf-8-sig"))
    except (ValueError, RecursionError):
        raise InputError(f"The envelope {path} is not readable JSON in UTF-8. Write it again.") from None
    if not isinstance(said, dict):
        raise InputError(f"The envelope {path} is not a JSON object. Write it again.")
    return said


def _check_fields(said: dict[str, Any], path: str) -> None:
    missing = [name for name in ENVELOPE_FIELDS if name not in said]
    if missing:
        raise InputError(f"The envelope {path} does not say: {', '.join(missing)}. Add it.")
    unknown = sorted(set(said) - set(ENVELOPE_FIELDS) - set(OPTIONAL_FIELDS))
    if unknown:
        names = ", ".join(name[:LONGEST_TEXT] for name in unknown[:5])
        raise InputError(f"The envelope {path} has unknown fields: {names}. Leave them out.")
    if said["schema"] != SCHEMA_VERSION:
        raise InputError(
            f"The envelope {path} is of schema {_shown(said['schema'])}; this program reads schema {SCHEMA_VERSION!r}. "
            "Write it again by that schema."
        )


def _shown(value: Any) -> str:
    """Show a value of an envelope, cut where it is long."""
    text = repr(value)
    return text if len(text) <= LONGEST_TEXT else text[:LONGEST_TEXT] + "…"


def _patient_numbers(said: dict[str, Any], path: str) -> str:
    value = said.get("patient_numbers", PATIENT_NUMBERS[0])
    if not isinstance(value, str) or value not in PATIENT_NUMBERS:
        raise InputError(
            f"The envelope {path} has the unknown patient_numbers {_shown(value)}; "
            f"known are {', '.join(PATIENT_NUMBERS)}."
        )
    if value == "own" and said["sender"] == OFFICE:
        raise InputError(
            f"The envelope {path} is of the office, which gives patients no numbers of its own. "
            "Say shared if it is a number that all senders use, else send pseudonyms."
        )
    return value


def _reason(said: dict[str, Any], path: str) -> str:
    """Read why the sender corrects; a pseudonym in it is hidden, since it goes to the correction log."""
    value = said.get("reason_for_correction", "")
    if not isinstance(value, str) or not (value.isprintable() and len(value) <= LONGEST_REASON):
        raise InputError(
            f"The envelope {path} has no usable reason_for_correction; write one line of at most {LONGEST_REASON} "
            "characters, or leave it out."
        )
    return PATIENT_FORM.sub("[patient]", value.strip())


def _kind(kind: Any, path: str) -> str:
    if not isinstance(kind, str) or kind not in KINDS:
        raise InputError(f"The envelope {path} is of the unknown kind {_shown(kind)}; known are {', '.join(KINDS)}.")
    return kind


def _text(said: dict[str, Any], name: str, path: str) -> str:
    value: Any = said.get(name)
    usable = isinstance(value, str) and bool(value.strip()) and value.isprintable() and len(value) <= LONGEST_TEXT
    if not usable:
        raise InputError(f"The envelope {path} has no usable {name}: {_shown(value)}. Write a short code.")
    return str(value)


def _count(value: Any, name: str, path: str) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or not 0 <= value < 1_000_000_000:
        raise InputError(f"The envelope {path} has a {name} that is not a whole number: {_shown(value)}.")
    return value


def _day(said: dict[str, Any], name: str, path: str) -> date:
    value = said[name]
    try:
        if not _DATE.fullmatch(value):
            raise ValueError(value)
        return date.fromisoformat(value)
    except (TypeError, ValueError):
        raise InputError(f"The envelope {path} has a {name} that is no date as 2024-03-31: {_shown(value)}.") from None


def _declared(said: dict[str, Any], path: str) -> dict[str, int]:
    """Rows that the envelope declares, by table; each table is one file, CSV or Parquet."""
    files, tables = said["files"], KINDS[said["kind"]].tables
    found = (
        {name.rpartition(".")[0]: name for name in files if name.endswith(ENDINGS)} if isinstance(files, dict) else {}
    )
    if not isinstance(files, dict) or len(found) != len(files) or set(found) != set(tables):
        named = ", ".join(sorted(files))[: 5 * LONGEST_TEXT] if isinstance(files, dict) else _shown(files)
        wanted = ", ".join(sorted(f"{table}.csv" for table in tables))
        raise InputError(
            f"The envelope {path} names the files {named or 'none'}; "
            f"a submission of {said['kind']} has {wanted}, or .{PARQUET} in the place of .csv."
        )
    return {table: _count(files[found[table]], f"row count of {found[table]}", path) for table in tables}


def _in_parquet(said: dict[str, Any]) -> frozenset[str]:
    return frozenset(name.rpartition(".")[0] for name in said["files"] if name.endswith(f".{PARQUET}"))
