"""
The audit trail: who did what, when and why. Lines are added and never changed; each carries the hash of the one before.

Whoever can write the files can, with effort, write them anew. What `verify` finds, and what it cannot:

- a line changed, removed or put in, whatever wrote it: found, since the hashes no longer follow from each other;
- the last lines cut off, or everything from one line on written anew with fitting hashes: found as long as
  `office.heads` beside it, to which each line's hash is added too, was not written anew as well;
- both files written anew together: found only by a head that was noted down elsewhere (`since_head`);
- an act whose process was killed after it was done and before its line was written: there is no line. What was taken
  in and frozen stands in the store and in the manifests of cuts all the same.
"""

import hashlib
import json
import os
import pwd
import sqlite3
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import Any

from regdash.dictionary import PATIENT_FORM
from regdash.errors import StoreError
from regdash.store.connect import FILE_MODE
from regdash.store.office import OFFICE_FILE, now, office_path, reading_office, writing_office
from regdash.store.personal_numbers import without_numbers
from regdash.store.sqlfiles import statement

HEADS_FILE = "office.heads"
USER_VARIABLE = "REGDASH_USER"
FIRST_PREVIOUS = "0" * 64
HIDDEN = "[patient]"

# What is written down, and what it means.
ACTS = {
    "receive": "submissions were taken in",
    "freeze": "a data cut was made",
    "link-accepted": "a revision was joined to its primary by a person",
    "link-undone": "such a link was undone",
    "cohort-saved": "a cohort was given a name",
    "cohort-removed": "the name of a cohort was taken away",
    "signal-decided": "the review of a signal was moved on by a person",
    "request": "a request to the office was written down, answered or closed",
    "correction": "what was submitted was corrected",
    "rules-applied": "new or changed rules were let judge rows accepted before them",
    "export": "rows left the program, one for each joint or record",
    "backup": "the store was copied",
    "restore": "a store was made from a copy",
    "key-made": "a key for pseudonyms was made",
}


@dataclass(frozen=True)
class AuditLine:
    """One act."""

    line: int  # 1, 2, 3 … without gaps
    at: str  # UTC, ISO 8601
    who: str  # REGDASH_USER, else the account
    account: str  # of the operating system
    what: str  # a key of ACTS
    subject: str  # submission, cut …; never a patient
    why: str  # free text, empty where none was given
    outcome: str  # done; or refused, failed, interrupted and how
    details: str  # JSON object: counts, hashes
    previous_hash: str
    hash: str

    def own_hash(self) -> str:
        """SHA-256 over the canonical JSON of everything but the hash: keys sorted, no blanks, ASCII alone."""
        said = asdict(self)
        del said["hash"]
        return hashlib.sha256(_canonical(said).encode("ascii")).hexdigest()


def _canonical(said: dict[str, Any]) -> str:
    return json.dumps(said, sort_keys=True, separators=(",", ":"))


@dataclass(frozen=True)
class Verdict:
    """What came of walking the chain."""

    lines: int  # that are there
    head: str  # hash of the last; zeros where there is none
    faulty_line: int | None = None
    fault: str | None = None  # one sentence on the first line that is not what was written


def heads_path(store: Path) -> Path:
    """Where the hash of every line stands once more."""
    return store / HEADS_FILE


def lost_office(store: Path) -> str | None:
    """
    Say that the office file is gone; None where it is there, or where nothing was ever written into one.

    Whoever writes makes a new one, without what people had decided: that is told before they do.
    """
    if office_path(store).is_file() or not heads_path(store).is_file():
        return None
    return (
        f"{OFFICE_FILE} is missing beside {HEADS_FILE}: decisions, requests and names are not read. Restore it from a "
        "backup."
    )


def account() -> str:
    """Name the account of the operating system; its number where it has no name."""
    try:
        return pwd.getpwuid(os.getuid()).pw_name
    except KeyError:
        return str(os.getuid())


def author() -> tuple[str, str]:
    """Say who acts: the name in REGDASH_USER, else the account; and the account."""
    own = account()
    return os.environ.get(USER_VARIABLE, "").strip() or own, own


def without_patients(text: str) -> str:
    """
    Hide pseudonyms, in whatever was written: no line ever names a patient.

    >>> without_patients("joint P123456789-KL")
    'joint [patient]-KL'
    """
    return PATIENT_FORM.sub(HIDDEN, text.encode("utf-8", "replace").decode("utf-8"))


def append(
    store: Path,
    what: str,
    subject: str = "",
    why: str = "",
    outcome: str = "done",
    details: dict[str, Any] | None = None,
) -> AuditLine:
    """
    Add a line to the audit trail, after those of every other process.

    Raises:
        StoreError: the office file cannot be written.
        ValueError: what was done is none of ACTS.
    """
    if what not in ACTS:
        raise ValueError(f"{what!r} is not an act of the audit trail")
    who, by = author()
    texts = {"who": who, "account": by, "what": what} | _typed(subject=subject, why=why, outcome=outcome)
    texts = {name: without_patients(text) for name, text in (texts | {"details": _canonical(details or {})}).items()}
    with writing_office(store) as office:
        last, previous = _last(office)
        # The time is taken once the file is ours, so that times and numbers are in one order.
        hashless = AuditLine(line=last + 1, at=now(), previous_hash=previous, hash="", **texts)
        line = replace(hashless, hash=hashless.own_hash())
        office.execute(statement("office/append_audit_line"), asdict(line))
    _note_head(store, line)
    return line


def _typed(**texts: str) -> dict[str, str]:
    """Hide what looks like a person's number in what people typed, though the act itself was refused for it."""
    return {name: without_numbers(text) for name, text in texts.items()}


def _last(office: sqlite3.Connection) -> tuple[int, str]:
    return office.execute(statement("office/last_audit_line")).fetchone() or (0, FIRST_PREVIOUS)


def _note_head(store: Path, line: AuditLine) -> None:
    """Note the hash beside, once the line is kept: a line too few here is no fault, one too many would be."""
    path = heads_path(store)
    try:
        descriptor = os.open(path, os.O_WRONLY | os.O_APPEND | os.O_CREAT, FILE_MODE)
    except OSError as fault:
        raise StoreError(f"{path} cannot be written: {fault.strerror}.") from None
    try:
        with suppress(PermissionError):  # somebody else of the group made it, and gave it its mode
            os.fchmod(descriptor, FILE_MODE)
        os.write(descriptor, f"{line.line} {line.hash}\n".encode("ascii"))
        os.fsync(descriptor)
    finally:
        os.close(descriptor)


def audit_lines(store: Path, since: str | None = None, what: str | None = None) -> list[AuditLine]:
    """
    List the audit trail, oldest first: all of it, or what was done since a date or time, or one kind of act.

    Raises:
        StoreError: it cannot be read.
    """
    with reading_office(store) as office:
        if office is None:
            return []
        rows = office.execute(statement("office/audit_lines"), {"since": since, "what": what})
        return [AuditLine(*row) for row in rows]


def verify(store: Path, since_head: str | None = None) -> Verdict:
    """
    Walk the chain from the first line, and name the first that was changed, is missing or was put in.

    Args:
        store: the folder of the store.
        since_head: the hash of a line as it was noted down elsewhere, or its beginning; that line must be there.

    Raises:
        StoreError: the office file cannot be read.
    """
    heads = _heads(store)  # first: a line that is added meanwhile is then too many there, not here
    lines = audit_lines(store)
    whole = Verdict(len(lines), lines[-1].hash if lines else FIRST_PREVIOUS)
    found = _break_of_chain(lines) or _break_of_heads(lines, heads)
    if found:
        return replace(whole, faulty_line=found[0], fault=found[1])
    if since_head and not any(line.hash.startswith(since_head.lower()) for line in lines):
        gone = f"No line has the hash {since_head}: the trail was written anew or cut off."
        return replace(whole, faulty_line=0, fault=gone)
    return whole


Break = tuple[int, str]


def _break_of_chain(lines: Sequence[AuditLine]) -> Break | None:
    previous = FIRST_PREVIOUS
    for place, line in enumerate(lines, 1):
        if line.line > place:
            return place, f"Line {place} is missing: line {line.line} comes next."
        if line.own_hash() != line.hash:
            return _changed_or_moved(lines, line)
        if line.previous_hash != previous:
            return _does_not_follow(lines, line)
        previous = line.hash
    return None


def _changed_or_moved(lines: Sequence[AuditLine], line: AuditLine) -> Break:
    """Tell a line that was changed from one that was only given another number."""
    numbers = range(1, 2 * len(lines) + 2)
    was = next((n for n in numbers if replace(line, line=n).own_hash() == line.hash), None)
    if was is None:
        return line.line, f"Line {line.line} was changed: {_told(line)}."
    if was > line.line:
        return line.line, f"Line {line.line} is missing: what stands there was line {was}."
    return was, f"Line {was} was put in: what was line {was} is now line {line.line}."


def _does_not_follow(lines: Sequence[AuditLine], line: AuditLine) -> Break:
    """A line is what it was, and says that another came before it."""
    before = line.line - 1
    if before == 0:
        return 1, "Line 1 is missing: what stands there followed another line."
    return before, f"Line {before} was changed and its hash made anew: {_told(lines[before - 1])}."


def _told(line: AuditLine) -> str:
    return f"{line.at}, {line.who}, {line.what}"


def _break_of_heads(lines: Sequence[AuditLine], heads: dict[int, str]) -> Break | None:
    for number, noted in sorted(heads.items()):
        if number > len(lines):
            first = len(lines) + 1
            return first, f"Lines {first} to {max(heads)} are missing at the end: {HEADS_FILE} has them."
        if lines[number - 1].hash != noted:
            return number, f"Line {number} was changed, with all hashes from there on: {HEADS_FILE} has another."
    return None


def _heads(store: Path) -> dict[int, str]:
    path = heads_path(store)
    try:
        text = path.read_text(encoding="utf-8", errors="replace")
    except FileNotFoundError:
        return {}
    except OSError as fault:
        raise StoreError(f"{path} cannot be read: {fault.strerror}.") from None
    return dict(_head(line, path) for line in text.splitlines())


def _head(line: str, path: Path) -> tuple[int, str]:
    number, _, noted = line.partition(" ")
    if not number.isdecimal() or len(noted) != len(FIRST_PREVIOUS):
        raise StoreError(f"{path} was changed: {line[:80]!r} is no line of it.")
    return int(number), noted
