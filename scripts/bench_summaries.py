"""What the documents of a quarter take, each in a process of its own: the part of `bench.py` that makes folders."""

import shutil
from collections.abc import Callable, Iterator
from pathlib import Path

QUARTER = "2024Q4"
# Whose edition, what it is called here, and what it should take on two cores at a million joints.
EDITIONS = (
    ("committee", "the committee's edition, all formats", "60 s, 4 GB"),
    ("public", "everybody's edition, all formats", ""),
    ("all-hospitals", "editions of all hospitals", "with the next: 600 s"),
    ("all-surgeons", "editions of all surgeons", "with the one before: 600 s"),
)


def editions(
    store: Path, program: Callable[..., list[str]], child: Callable[[list[str]], object]
) -> Iterator[tuple[str, str, str]]:
    """Make each edition once: what it is, what it took, and what it should take."""
    for reader, named, aim in EDITIONS:
        folder = store.parent / f"edition-{reader}"
        took = child(program("summary", QUARTER, "--for", reader, "--out", str(folder), "--store", str(store)))
        folders = sum(1 for path in folder.iterdir() if path.is_dir()) if reader.startswith("all-") else 0
        shutil.rmtree(folder)
        yield named, f"{took}" + (f"; {folders:,} folders" if folders else ""), aim
