"""
The own editions of all hospitals, surgeons or makers in one run: several processes write folders, and a run that was
ended is taken up where it was, since a folder comes to be there in one step or not at all.
"""

import hashlib
import json
import multiprocessing
import os
import shutil
import signal
import threading
from concurrent.futures import Future, ProcessPoolExecutor, as_completed
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import Any

from regdash.errors import SummaryError
from regdash.signals.desk import SignalsDesk
from regdash.store.cuts import Manifest, find_cut
from regdash.summary.build import Told
from regdash.summary.edition import Edition, edition_of
from regdash.summary.make import make
from regdash.summary.office import Kept
from regdash.summary.output import REPRODUCTION, paths_in, reproduction
from regdash.summary.pinned import pinned
from regdash.summary.quarter import Quarter
from regdash.summary.recipient import Recipient, withheld_under

WORKERS = 2
MADE, THERE = "made", "there already"


@dataclass(frozen=True)
class Batch:
    """Everything that the folders of one run have in common."""

    store: Path
    cut: str
    kind: str  # hospital, surgeon or maker
    edition: str  # the text of its file
    quarter: Quarter
    reviews_as_of: date
    earlier: str | None  # the cut that this one is compared with
    folder: Path  # that of each recipient is in it, by code


@dataclass
class _Opened:
    """What a process keeps open from one folder to the next."""

    batch: Batch
    desk: SignalsDesk = field(init=False)
    edition: Edition = field(init=False)
    earlier: Manifest | None = field(init=False)

    def __post_init__(self) -> None:
        self.edition = edition_of(self.batch.kind, self.batch.edition)
        under = withheld_under(Recipient(self.batch.kind), self.edition)
        self.desk = SignalsDesk(self.batch.store, self.batch.cut, withhold_counts_under=under)
        self.earlier = None if self.batch.earlier is None else find_cut(self.batch.store, self.batch.earlier)

    def make(self, code: str) -> tuple[Kept, ...]:
        """Write the folder of one recipient, and say what it does not get."""
        recipient, batch = Recipient(self.batch.kind, code), self.batch
        reviews = pinned(batch.store, batch.reviews_as_of)
        folder = batch.folder / code
        return make(self.desk, self.edition, batch.quarter, reviews, self.earlier, folder, None, recipient).kept

    def expected(self, code: str) -> dict[str, Any]:
        """Say what the reproduction file of one recipient holds beside its checksums."""
        reviews = pinned(self.batch.store, self.batch.reviews_as_of)
        recipient = Recipient(self.batch.kind, code)
        return reproduction(self.desk, self.edition, self.batch.quarter, reviews, self.earlier, {}, recipient)


def codes_of(desk: SignalsDesk, kind: str) -> list[str]:
    """List the codes of all hospitals, surgeons or makers of a data cut."""
    return [code for code in desk.known[kind] if " " not in code]  # what is not recorded gets nothing


def make_all(
    batch: Batch, codes: list[str], told: Told, workers: int = WORKERS
) -> tuple[list[tuple[str, str]], list[Kept]]:
    """
    Write the folder of every recipient that has none yet.

    Args:
        told: hears how many are done.

    Returns:
        For each code whether its folder was made, or was there and is whole; and what those made now do not get.

    Raises:
        SummaryError: a folder holds something else, or cannot be written, or a process ended; what is done stays, and
            the same command goes on.
    """
    _sweep(batch.folder)
    opened = _Opened(batch)
    try:
        there = [code for code in codes if _is_whole(batch.folder / code, opened.expected(code))]
    finally:
        opened.desk.close()
    kept: list[Kept] = []
    missing = [code for code in codes if code not in there]
    done = len(there)
    told(f"{batch.kind}s", done, len(codes))
    context = multiprocessing.get_context("spawn")
    pool = ProcessPoolExecutor(workers, context, _begin, (batch,))
    try:
        running: list[Future[tuple[Kept, ...]]] = [pool.submit(_make, code) for code in missing]
        for finished in as_completed(running):
            kept += finished.result()
            done += 1
            told(f"{batch.kind}s", done, len(codes))
    except BrokenProcessPool:
        raise SummaryError(
            f"A process ended before its work was done: {done:,} of {len(codes):,} are there. The same command goes on."
        ) from None
    finally:
        pool.shutdown(wait=True, cancel_futures=True)
    rows = [(code, THERE if code in there else MADE) for code in codes]
    return rows, sorted(kept, key=lambda one: one.recipient)


def _is_whole(folder: Path, expected: dict[str, Any]) -> bool:
    """
    Whether a folder is what would be made, by what it says and the checksum of every file.

    Raises:
        SummaryError: it holds something else.
    """
    if not folder.exists() or (folder.is_dir() and not any(folder.iterdir())):
        return False
    try:
        record = json.loads((folder / REPRODUCTION).read_text(encoding="utf-8"))
        sums = record.pop("files")
        expected = json.loads(json.dumps({name: value for name, value in expected.items() if name != "files"}))
        names = set(paths_in(folder)) - {REPRODUCTION}
        is_same = record == expected and names == set(sums)
        whole = is_same and all(_sum(folder / name) == checksum for name, checksum in sums.items())
    except (OSError, ValueError, KeyError, AttributeError):
        whole = False
    if not whole:
        raise SummaryError(
            f"{folder} holds something else, another summary or one that was changed. Take it away, or name another "
            "folder with --out DIR."
        )
    return True


def _sum(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()


def _sweep(folder: Path) -> None:
    """Take away what processes that were killed left half written."""
    for path in folder.glob(".*.making-*"):
        process = path.name.rpartition("-")[2]
        if process.isdigit() and not _lives(int(process)):
            shutil.rmtree(path, ignore_errors=True)


def _lives(process: int) -> bool:
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    except PermissionError:
        return True
    return True


_opened: _Opened | None = None  # of this process


def _begin(batch: Batch) -> None:
    """Open what a process needs; it ends with the one that started it, and Ctrl-C lets it finish its folder."""
    global _opened
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_end_with_parent, daemon=True).start()
    _opened = _Opened(batch)


def _end_with_parent() -> None:
    if (parent := multiprocessing.parent_process()) is not None:
        parent.join()
        os._exit(1)


def _make(code: str) -> tuple[Kept, ...]:
    assert _opened is not None
    return _opened.make(code)
