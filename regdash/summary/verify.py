"""Making a summary again from what its folder says, and telling what differs and why."""

import csv
import hashlib
import io
import json
from collections.abc import Callable
from contextlib import AbstractContextManager, nullcontext
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

from regdash.errors import RegdashError, StoreError, SummaryError
from regdash.reports.policy import Policy
from regdash.reports.policy_file import read_policy
from regdash.signals.desk import SignalsDesk
from regdash.signals.settings import ScreenSettings, read_settings
from regdash.store.cuts import Manifest, find_cut
from regdash.store.requests import requests_known
from regdash.summary.build import Told, build
from regdash.summary.document import Document
from regdash.summary.edition import EVIDENCE, Edition, edition_of
from regdash.summary.evidence import build_evidence, unit_of
from regdash.summary.output import EDITION, FORMAT, REPRODUCTION, files_of, paths_in, software
from regdash.summary.pinned import PinnedReviews, pinned
from regdash.summary.quarter import read_quarter
from regdash.summary.recipient import TOLD_OUTSIDE, Recipient, read_recipient, withheld_under
from regdash.summary.released import released_of

SAME, DIFFERS, GONE, ADDED, CHANGED = "same", "differs", "missing", "not of the summary", "changed since it was written"
MOST_CELLS = 3  # of a table, told one by one
Watched = Callable[[Callable[[], None]], AbstractContextManager[None]]


@dataclass(frozen=True)
class FileVerdict:
    """One file: what became of it, and what differs in it."""

    file: str
    verdict: str
    told: str


@dataclass(frozen=True)
class Verified:
    """What was found: every file that is not the same, and why files may differ."""

    compared: int
    found: tuple[FileVerdict, ...]  # files that are not the same
    why: tuple[str, ...]  # what decides the files and is not as it was
    notes: tuple[str, ...]  # what changed in the store and does not matter here

    @property
    def is_same(self) -> bool:
        """Whether everything is as it was, byte for byte."""
        return not self.found


def _unwatched(cancel: Callable[[], None]) -> AbstractContextManager[None]:
    return nullcontext()


def verify(store: Path, folder: Path, told: Told | None = None, watched: Watched = _unwatched) -> Verified:
    """
    Make a summary, or a pack of evidence, again with the settings that its folder names, and compare every file.

    Args:
        told: hears how far it is.
        watched: is given what ends a question, and lets somebody use it while questions are asked.

    Raises:
        SummaryError: the folder is none of a summary, or what it was made from is no longer there.
        StoreError: there is no such data cut.
    """
    record = _record(folder)
    edition, cut, earlier = _edition(folder, record), *_cuts(store, record)
    desk = SignalsDesk(store, cut.cut, policy_of(record["policy"]), settings=_settings(store, record))
    try:
        with watched(desk.cancel):
            reviews = pinned(store, _day(record), _request_lines(record))
            document = _built(desk, edition, record, reviews, earlier, told)
    finally:
        desk.close()
    made = files_of(document, edition, told)
    found = [verdict for name in _names(folder, record, made) if (verdict := _verdict(folder, name, record, made))]
    why = [*_why(record, edition, cut, earlier), *_reviews_differ(store, record), *_requests_differ(store, record)]
    why += _settings_differ(desk.settings, record)
    return Verified(len(made), tuple(found), tuple(why), tuple(_notes(store, record, edition)))


def _built(
    desk: SignalsDesk,
    edition: Edition,
    record: dict[str, Any],
    reviews: PinnedReviews,
    earlier: Manifest | None,
    told: Told | None,
) -> Document:
    """Make the document of a summary, or of a pack of evidence, again."""
    recipient = _recipient(record)
    if EVIDENCE in record:
        unit, cohort = unit_of(record[EVIDENCE])
        return build_evidence(desk, edition, unit, cohort, reviews, earlier, told, recipient)
    before = released_of(record.get("told_before"))
    return build(desk, edition, read_quarter(record["quarter"]), reviews, earlier, told, recipient, before)


def _settings(store: Path, record: dict[str, Any]) -> ScreenSettings:
    """Give the recorded settings of screens; those of the store, where no more than their hash may be told."""
    facts = record["screening"]
    return read_settings(store) if facts.keys() == set(TOLD_OUTSIDE) else settings_of(facts)


def _settings_differ(now: ScreenSettings, record: dict[str, Any]) -> list[str]:
    """Say where settings of screens are others than those of which the hash is recorded."""
    was = record["screening"]["hash"]
    return [] if was == now.hash else [f"the settings of screens are others: hash {was}, now {now.hash}"]


def _record(folder: Path) -> dict[str, Any]:
    path = folder / REPRODUCTION
    try:
        record = json.loads(path.read_text(encoding="utf-8"))
        known = {"quarter", "edition", "cut", "earlier_cut", "policy", "screening", "reviews", "software", "files"}
        if record["format"] != FORMAT or not known <= record.keys():
            raise KeyError
    except FileNotFoundError:
        if not folder.exists():
            raise SummaryError(f"There is no folder {folder}.") from None
        raise SummaryError(f"{folder} has no {REPRODUCTION}, so it is no summary, evidence or extract.") from None
    except OSError as fault:
        raise SummaryError(f"{path} cannot be read: {fault.strerror or fault}") from None
    except (ValueError, KeyError, TypeError):
        raise SummaryError(f"{path} is damaged, or of another release, and cannot be verified.") from None
    return dict(record)


def _edition(folder: Path, record: dict[str, Any]) -> Edition:
    path = folder / EDITION
    try:
        return edition_of(record["edition"]["name"], path.read_bytes().decode("utf-8"))
    except (OSError, UnicodeDecodeError) as fault:
        raise SummaryError(f"The edition {path} cannot be read: {fault}") from None


def _recipient(record: dict[str, Any]) -> Recipient:
    text = str(record.get("recipient", record["edition"]["name"]))
    return Recipient(text) if EVIDENCE in record else read_recipient(text)


def _cuts(store: Path, record: dict[str, Any]) -> tuple[Manifest, Manifest | None]:
    """Find the data cuts that a summary was made from."""
    try:
        cut = find_cut(store, record["cut"]["name"])
        earlier = record["earlier_cut"]
        return cut, None if earlier is None else find_cut(store, earlier["name"])
    except StoreError as fault:
        raise SummaryError(f"What the summary was made from is not there: {fault}") from None


def policy_of(settings: dict[str, Any]) -> Policy:
    """
    Make a policy of its recorded settings.

    Raises:
        SummaryError: they are not those of a policy.
    """
    try:
        values = dict(settings)
        return Policy(level=values.pop("confidence_level"), **values)
    except (RegdashError, TypeError, KeyError) as fault:
        raise SummaryError(f"The recorded policy cannot be used: {fault}") from None


def settings_of(facts: dict[str, Any]) -> ScreenSettings:
    """
    Make settings of a screen of their recorded facts.

    Raises:
        SummaryError: they are not such settings.
    """
    values: dict[str, Any] = {
        name: tuple(value) if isinstance(value, list) else value for name, value in facts.items() if name != "hash"
    }
    try:
        return ScreenSettings(**values)
    except (RegdashError, TypeError) as fault:
        raise SummaryError(f"The recorded settings of screens cannot be used: {fault}") from None


def _names(folder: Path, record: dict[str, Any], made: dict[str, bytes]) -> list[str]:
    return sorted({*record["files"], *made, *paths_in(folder)} - {REPRODUCTION})


def _verdict(folder: Path, name: str, record: dict[str, Any], made: dict[str, bytes]) -> FileVerdict | None:
    """Compare one file as it stands, as it was written, and as it comes out now."""
    path = folder / name
    if not path.is_file():
        return FileVerdict(name, GONE, "")
    there = path.read_bytes()
    was = record["files"].get(name)
    if name not in made and was is None:
        return FileVerdict(name, ADDED, "")
    if was != hashlib.sha256(there).hexdigest():
        return FileVerdict(name, CHANGED, _differences(name, there, made.get(name)))
    if name not in made:
        return FileVerdict(name, DIFFERS, "it is not made any more")
    return None if made[name] == there else FileVerdict(name, DIFFERS, _differences(name, there, made[name]))


def _differences(name: str, there: bytes, now: bytes | None) -> str:
    """Say what differs within a table, where one is compared."""
    if now is None or not name.endswith(".csv") or there == now:
        return ""
    try:
        old, new = (list(csv.reader(io.StringIO(data.decode("utf-8"), newline=""))) for data in (there, now))
    except (UnicodeDecodeError, csv.Error):
        return "it is no table any more"
    if len(old) != len(new):
        return f"{len(old) - 1:,} rows, now {len(new) - 1:,}"
    cells = [
        f"row {line}, {head}: {was} there, {comes} now"
        for line, (one, other) in enumerate(zip(old, new))
        for head, was, comes in zip(new[0], one, other)
        if was != comes
    ]
    more = f", and {len(cells) - MOST_CELLS:,} more" if len(cells) > MOST_CELLS else ""
    return "; ".join(cells[:MOST_CELLS]) + more


def _why(record: dict[str, Any], edition: Edition, cut: Manifest, earlier: Manifest | None) -> list[str]:
    """Say what decides the files and is not as it was."""
    said = []
    if (cut.content_hash, cut.hash_format) != (record["cut"]["content_hash"], record["cut"]["hash_format"]):
        said.append(
            f"data cut {cut.cut} is another: hash {record['cut']['content_hash'][:12]}, now {cut.content_hash[:12]}"
        )
    if earlier is not None and earlier.content_hash != record["earlier_cut"]["content_hash"]:
        said.append(f"data cut {earlier.cut}, which it was compared with, is another")
    if edition.hash != record["edition"]["hash"]:
        said.append(f"{EDITION} in the folder was changed: hash {record['edition']['hash']}, now {edition.hash}")
    now = software()
    said += [
        f"{name} was {was}, now {now.get(name, 'not there')}"
        for name, was in sorted(record["software"].items())
        if now.get(name) != was
    ]
    return said


def _day(record: dict[str, Any]) -> date:
    """
    Read up to which day decisions on signals counted.

    Raises:
        SummaryError: it is no day.
    """
    try:
        return date.fromisoformat(record["reviews"]["as_of"])
    except (TypeError, KeyError, ValueError):
        raise SummaryError("The recorded day of reviews is none.") from None


def _reviews_differ(store: Path, record: dict[str, Any]) -> list[str]:
    """Say whether decisions were added on or before the recorded day, or changed."""
    then, now = record["reviews"], pinned(store, _day(record)).facts
    if then == now:
        return []
    counts = f"{then.get('taken')} then, {now['taken']} now"
    return [f"decisions on signals up to {now['as_of']} are others: {counts}"]


def _request_lines(record: dict[str, Any]) -> int:
    """
    Read how many lines of the register of requests counted; none where the edition tells nothing of it.

    Raises:
        SummaryError: it is no number.
    """
    lines = record.get("requests", {"lines": 0})
    if not isinstance(lines, dict) or type(lines.get("lines")) is not int or lines["lines"] < 0:
        raise SummaryError("The recorded number of lines of the register of requests is none.")
    return int(lines["lines"])


def _requests_differ(store: Path, record: dict[str, Any]) -> list[str]:
    """Say whether the lines of the register that counted are others."""
    lines = _request_lines(record)
    if "requests" not in record or requests_known(store, lines).facts == record["requests"]:
        return []
    return [f"the first {lines:,} lines of the register of requests are others"]


def _notes(store: Path, record: dict[str, Any], edition: Edition) -> list[str]:
    """Say what the store has changed since; the summary is made again with what it was made with."""
    said = []
    least = withheld_under(_recipient(record), edition)
    if read_policy(store).at_least(least).settings != record["policy"]:
        said.append("the store's policy has changed since; the summary was made again by the recorded one")
    if read_settings(store).hash != record["screening"]["hash"] and record["screening"].keys() != set(TOLD_OUTSIDE):
        said.append("the store's settings of screens have changed since; the recorded ones were used")
    return said
