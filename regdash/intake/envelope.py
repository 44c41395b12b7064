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

from regdash.dictionary import ENVELOPE_FIELDS, ENVELOPE_NAME, KINDS, SCHEMA_VERSION
from regdash.errors import InputError

# Units and catalogue entries may be announced before their first day; what happens to patients cannot be.
KNOWN_AHEAD = ("units", "catalogue")

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

    def path_of(self, table: str) -> str:
        """Where a table's file stands."""
        return f"{self.folder}/{table}.csv"


def find_submissions(paths: list[Path]) -> list[Envelope]:
    """
    Read every envelope below the paths, each folder once, ordered by id.

    Raises:
        InputError: a path is missing or holds no envelope, or an envelope cannot be used.
    """
    folders: dict[str, None] = {}
    for path in paths:
        found = list(_folders_below(path))
        if not found:
            raise InputError(f"There is no submission in {path}: no folder below it has an {ENVELOPE_NAME}.")
        folders |= dict.fromkeys(found)
    return sorted((read_envelope(folder) for folder in folders), key=lambda envelope: (envelope.id, envelope.folder))


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
    said = _read_json(path)
    envelope = Envelope(
        folder=folder,
        kind=_kind(said["kind"], path),
        sender=_text(said, "sender", path),
        id=_text(said, "id", path),
        sequence=_count(said["sequence"], "sequence", path),
        received_date=_day(said, "received_date", path),
        complete_through=_day(said, "complete_through", path),
        files=_declared(said, path),
    )
    if envelope.kind not in KNOWN_AHEAD and envelope.complete_through > envelope.received_date:
        raise InputError(
            f"The envelope {path} says it is complete through {envelope.complete_through}, "
            f"after the day it was received, {envelope.received_date}."
        )
    return envelope


def _read_json(path: str) -> dict[str, Any]:
    try:
        with open(path, "rb") as file:
            said = json.loads(file.read().decode("utf-8-sig"))
    except OSError as fault:
        raise InputError(f"The envelope {path} cannot be read: {fault.strerror}.") from None
    except (ValueError, RecursionError):
        raise InputError(f"The envelope {path} is not readable JSON in UTF-8.") from None
    if not isinstance(said, dict):
        raise InputError(f"The envelope {path} is not a JSON object.")
    missing = [name for name in ENVELOPE_FIELDS if name not in said]
    if missing:
        raise InputError(f"The envelope {path} does not say: {', '.join(missing)}.")
    unknown = sorted(set(said) - set(ENVELOPE_FIELDS))
    if unknown:
        raise InputError(f"The envelope {path} has unknown fields: {', '.join(unknown)}.")
    if said["schema"] != SCHEMA_VERSION:
        raise InputError(
            f"The envelope {path} is of schema {said['schema']!r}; this program reads schema {SCHEMA_VERSION!r}."
        )
    return said


def _kind(kind: Any, path: str) -> str:
    if not isinstance(kind, str) or kind not in KINDS:
        raise InputError(f"The envelope {path} is of the unknown kind {kind!r}; known are {', '.join(KINDS)}.")
    return kind


def _text(said: dict[str, Any], name: str, path: str) -> str:
    value = said[name]
    if not isinstance(value, str) or not value.strip() or not value.isprintable():
        raise InputError(f"The envelope {path} has no usable {name}: {value!r}.")
    return value


def _count(value: Any, name: str, path: str) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or not 0 <= value < 1_000_000_000:
        raise InputError(f"The envelope {path} has a {name} that is not a whole number: {value!r}.")
    return value


def _day(said: dict[str, Any], name: str, path: str) -> date:
    value = said[name]
    try:
        if not _DATE.fullmatch(value):
            raise ValueError(value)
        return date.fromisoformat(value)
    except (TypeError, ValueError):
        raise InputError(f"The envelope {path} has a {name} that is no date as 2024-03-31: {value!r}.") from None


def _declared(said: dict[str, Any], path: str) -> dict[str, int]:
    files, tables = said["files"], KINDS[said["kind"]].tables
    wanted = {f"{table}.csv" for table in tables}
    if not isinstance(files, dict) or set(files) != wanted:
        named = ", ".join(sorted(files)) if isinstance(files, dict) else repr(files)
        raise InputError(
            f"The envelope {path} names the files {named or 'none'}; "
            f"a submission of {said['kind']} has {', '.join(sorted(wanted))}."
        )
    return {table: _count(files[f"{table}.csv"], f"row count of {table}.csv", path) for table in tables}
