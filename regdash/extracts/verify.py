"""Making an extract again from what its folder says, and telling what differs and why."""

import hashlib
import json
from pathlib import Path
from typing import Any

from regdash.cohort import parse
from regdash.errors import ExtractError, RegdashError, StoreError
from regdash.extracts.desk import ExtractsDesk
from regdash.extracts.field_list import FieldList, list_of
from regdash.extracts.make import FIELDS, FORMAT, RECORD, fingerprint, software
from regdash.extracts.model import FORMS, Wanted
from regdash.store.cuts import Manifest, find_cut
from regdash.store.extract_key import extract_key
from regdash.summary.output import paths_in
from regdash.summary.verify import CHANGED, DIFFERS, GONE, FileVerdict, Verified

_KNOWN = {  # what the record says, and how
    **dict.fromkeys(("extract", "k"), int),
    **dict.fromkeys(("list", "cut", "software", "files"), dict),
    **dict.fromkeys(("filter", "request", "order"), str),
    "suppress": bool,
    "data": list,
}
LEAST = 2  # patients alike


def is_extract(folder: Path) -> bool:
    """Whether a folder says that it holds an extract."""
    try:
        return "extract" in json.loads((folder / RECORD).read_text(encoding="utf-8"))
    except (OSError, ValueError, TypeError):
        return False


def verify_extract(store: Path, folder: Path) -> Verified:
    """
    Make an extract again with what its folder names, and compare every file.

    Raises:
        ExtractError: what its folder says is damaged, or what it was made from is no longer there.
    """
    record = _record(folder)
    fields = _fields(folder, record)
    try:
        cut = find_cut(store, record["cut"]["name"])
    except StoreError as fault:
        raise ExtractError(f"What the extract was made from is not there: {fault}") from None
    desk = ExtractsDesk(store, cut.cut)
    try:
        made = desk.extract_again(_wanted(desk, fields, record)).files
    finally:
        desk.close()
    names = sorted({*made, *record["files"], *paths_in(folder)})
    found = [verdict for name in names if (verdict := _verdict(folder, name, made))]
    return Verified(len(made), tuple(found), tuple(_why(store, record, fields, cut)), ())


def _record(folder: Path) -> dict[str, Any]:
    record: dict[str, Any] = json.loads((folder / RECORD).read_text(encoding="utf-8"))
    kinds = all(isinstance(record.get(name), kind) for name, kind in _KNOWN.items())
    if (
        not kinds
        or record["extract"] != FORMAT
        or record["k"] < LEAST
        or not isinstance(record["cut"].get("name"), str)
    ):
        raise ExtractError(f"{folder / RECORD} is damaged, or of another release, and cannot be verified.")
    return record


def _fields(folder: Path, record: dict[str, Any]) -> FieldList:
    path = folder / FIELDS
    try:
        return list_of(str(record["list"].get("name")), path.read_bytes().decode("utf-8"))
    except (OSError, UnicodeDecodeError, AttributeError, ExtractError) as fault:
        raise ExtractError(f"The field list {path} cannot be read: {fault}") from None


def _wanted(desk: ExtractsDesk, fields: FieldList, record: dict[str, Any]) -> Wanted:
    try:
        cohort = parse(record["filter"], known=desk.known)
    except RegdashError as fault:
        raise ExtractError(f"The recorded filter cannot be used: {fault}") from None
    forms = tuple(form for form in FORMS if form in record["data"])
    return Wanted(fields, cohort, record["k"], bool(record["suppress"]), forms, record["request"])


def _verdict(folder: Path, name: str, made: dict[str, bytes]) -> FileVerdict | None:
    path = folder / name
    if not path.is_file():
        return FileVerdict(name, GONE, "")
    if name not in made:
        return FileVerdict(name, "not of the extract", "")
    there = path.read_bytes()
    if there == made[name]:
        return None
    was = _sum_of(folder, name)
    return FileVerdict(name, DIFFERS if was == hashlib.sha256(there).hexdigest() else CHANGED, "")


def _sum_of(folder: Path, name: str) -> str | None:
    """The checksum of a file as it was written."""
    files = json.loads((folder / RECORD).read_text(encoding="utf-8"))["files"]
    return files.get(name) if isinstance(files, dict) else None


def _why(store: Path, record: dict[str, Any], fields: FieldList, cut: Manifest) -> list[str]:
    """Say what decides the files and is not as it was."""
    said = []
    if (cut.content_hash, cut.hash_format) != (record["cut"].get("content_hash"), record["cut"].get("hash_format")):
        said.append(f"data cut {cut.cut} is another")
    if fields.hash != record["list"].get("hash"):
        said.append(f"{FIELDS} in the folder was changed")
    key = extract_key(store)
    if key is None or fingerprint(key) != record["order"]:
        said.append("the key of the store that orders rows is another")
    now = software()
    return said + [
        f"{name} was {was}, now {now.get(name, 'not there')}"
        for name, was in sorted(record["software"].items())
        if now.get(name) != was
    ]
