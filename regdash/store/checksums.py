"""One checksum over a file, or over all files of a folder, so that what went out can be told from anything else."""

import hashlib
import json
from collections.abc import Mapping
from pathlib import Path

from regdash.errors import WriteError

RECORD = "reproduction.json"  # in a folder that the program wrote, with the checksums of its files


def sums_text(files: Mapping[str, str]) -> str:
    """
    Write checksums as `sha256sum --check` reads them, in the order of names.

    Args:
        files: SHA-256 in hexadecimal, by path within the folder.
    """
    return "".join(f"{files[name]}  {name}\n" for name in sorted(files))


def checksum_of(path: Path) -> str:
    """
    Give the SHA-256 of a file; of a folder that of its `sums_text`, all files in it.

    Raises:
        WriteError: there is none, it is empty, or it cannot be read.
    """
    try:
        if path.is_file():
            return _sha256(path)
        files = {one.relative_to(path).as_posix(): _sha256(one) for one in path.rglob("*") if one.is_file()}
    except OSError as fault:
        raise WriteError(f"{fault.filename or path} cannot be read: {fault.strerror or fault}") from None
    if not files:
        raise WriteError(f"{path} is no file and no folder with files.")
    return hashlib.sha256(sums_text(files).encode()).hexdigest()


def refuse_changed(folder: Path) -> None:
    """
    Refuse a folder that the program wrote and somebody changed since, by the checksums that it holds.

    Raises:
        WriteError: a file of it is not as it was written, or is missing.
    """
    try:
        sums = json.loads((folder / RECORD).read_text(encoding="utf-8")).get("files")
    except (OSError, ValueError, AttributeError):
        return  # no folder of ours: nothing is known of what it held
    for name, written in sums.items() if isinstance(sums, dict) else ():
        path = folder / name
        if not path.is_file() or _sha256(path) != written:
            raise WriteError(
                f"{path} is not as it was written. See regdash verify {folder}, and make it again before it goes out."
            )


def _sha256(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()
