"""
The folder of a summary: every form of the document, its tables and figures, the edition, and what makes it all again.

Names of the files are the same for every quarter; nothing in any file comes from the clock, the locale or the machine.
"""

import hashlib
import json
import os
import platform
import shutil
import zlib
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from importlib import metadata
from pathlib import Path
from typing import Any

import regdash
from regdash.errors import SummaryError
from regdash.figures.drawing import as_svg
from regdash.signals.desk import SignalsDesk
from regdash.store.cuts import Manifest
from regdash.summary.document import Document
from regdash.summary.edition import REQUESTS, Edition
from regdash.summary.office import Kept
from regdash.summary.pinned import PinnedReviews
from regdash.summary.quarter import Quarter
from regdash.summary.recipient import TO_COMMITTEE, Recipient

REPRODUCTION = "reproduction.json"
EDITION = "edition.toml"
FORMAT = 1  # of reproduction.json
WRITERS = ("typst", "xlsxwriter")  # whose releases decide bytes
Told = Callable[[str, int, int], None]


@dataclass(frozen=True)
class Written:
    """What was written."""

    folder: Path
    files: tuple[str, ...]
    bytes: int
    kept: tuple[Kept, ...] = ()  # for the office alone
    listed: int = 0  # joints that are listed one by one, to who operated on them


def files_of(document: Document, edition: Edition, told: Told | None = None) -> dict[str, bytes]:
    """Write a document in every form; by path within the folder, without the reproduction file."""
    from regdash.summary.renderers import html, markdown, package, pdf, text, workbook  # each loads what it needs

    forms: dict[str, Callable[[], bytes]] = {
        f"{document.stem}.html": lambda: html.render(document).encode(),
        f"{document.stem}.pdf": lambda: pdf.render(document),
        f"{document.stem}.xlsx": lambda: workbook.render(document),
        f"{document.stem}.md": lambda: markdown.render(document).encode(),
        f"{document.stem}.txt": lambda: text.render(document).encode(),
    }
    files: dict[str, bytes] = {EDITION: edition.text.encode()}
    for done, (name, written) in enumerate(forms.items()):
        if told:
            told(f"writing {name}", done, len(forms))
        files[name] = written()
    for figure in document.figures:
        svg = as_svg(figure.picture, figure.name, figure.title, figure.alt)
        files[f"figures/{figure.name}.svg"] = f'<?xml version="1.0" encoding="utf-8"?>\n{svg}\n'.encode()
    files |= {f"tables/{name}": data for name, data in package.render(document).items()}
    return files


def reproduction(
    desk: SignalsDesk,
    edition: Edition,
    quarter: Quarter,
    reviews: PinnedReviews,
    earlier: Manifest | None,
    files: dict[str, bytes],
    recipient: Recipient = TO_COMMITTEE,
    before: dict[str, Any] | None = None,
) -> dict[str, Any]:
    """Say everything that decides the files, and a checksum of each."""
    cut = desk.manifest
    return {
        "format": FORMAT,
        "quarter": str(quarter),
        "edition": {"name": edition.name, "version": edition.version, "hash": edition.hash},
        "recipient": str(recipient),
        "told_before": before,
        "cut": {"name": cut.cut, "content_hash": cut.content_hash, "hash_format": cut.hash_format},
        "earlier_cut": None if earlier is None else {"name": earlier.cut, "content_hash": earlier.content_hash},
        "policy": desk.policy.settings,
        "screening": recipient.settings_told(desk.settings.facts),
        "reviews": reviews.facts,
        **_register(desk, edition, reviews),
        "software": software(),
        "files": {name: hashlib.sha256(data).hexdigest() for name, data in sorted(files.items())},
    }


def _register(desk: SignalsDesk, edition: Edition, reviews: PinnedReviews) -> dict[str, Any]:
    """Say which lines of the register of requests count, where the edition tells of them."""
    return {"requests": desk.register(reviews.request_lines).facts} if REQUESTS in edition.sections else {}


def software() -> dict[str, str]:
    """Name the releases that decide figures and bytes."""
    found = {"regdash": regdash.__version__, "python": platform.python_version(), "zlib": zlib.ZLIB_RUNTIME_VERSION}
    found |= {name: metadata.version(name) for name in (*WRITERS, "duckdb", "numpy", "scipy")}
    return found


def write(folder: Path, files: dict[str, bytes], record: dict[str, Any]) -> Written:
    """
    Write the files of a summary into a new or empty folder, all or none: they come to stand there in one step.

    Raises:
        SummaryError: the folder holds something else, or cannot be written.
    """
    refuse_filled(folder)
    text = (json.dumps(record, indent=2, ensure_ascii=False, sort_keys=True) + "\n").encode()
    whole = {**dict(sorted(files.items())), REPRODUCTION: text}
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        aside = folder.with_name(f".{folder.name}.making-{os.getpid()}")
        try:
            _write_all(aside, whole)
            os.replace(aside, folder)  # over an empty folder too
        finally:
            shutil.rmtree(aside, ignore_errors=True)
    except OSError as fault:
        raise SummaryError(f"{folder} cannot be written: {fault.strerror or fault}") from None
    return Written(folder, tuple(whole), sum(map(len, whole.values())))


def _write_all(folder: Path, files: dict[str, bytes]) -> None:
    for name, data in files.items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(data)


def refuse_filled(folder: Path) -> None:
    """
    Refuse a folder that is no folder, or holds anything.

    Raises:
        SummaryError: it is so.
    """
    if folder.exists() and not folder.is_dir():
        raise SummaryError(f"{folder} is a file. Name a new or empty folder with --out DIR.")
    if folder.is_dir() and any(os.scandir(folder)):
        raise SummaryError(f"{folder} is not empty. Name a new or empty folder with --out DIR.")


def paths_in(folder: Path) -> Iterable[str]:
    """Name every file in a folder, as in the reproduction file."""
    return (path.relative_to(folder).as_posix() for path in sorted(folder.rglob("*")) if path.is_file())
