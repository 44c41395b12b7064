"""
Pseudonyms from patient numbers: a keyed hash that the office alone can repeat, made before anything is stored.

The key stands in a file of its own, outside every store, readable by its owner alone. Whoever has the key can find
out whose pseudonym is whose by trying numbers; whoever has it not, cannot.
"""

import base64
import hmac
import os
import re
import secrets
import stat
import unicodedata
from dataclasses import dataclass, field
from pathlib import Path

from regdash.errors import InputError
from regdash.store.connect import REGISTRY_FILE

KEY_BYTES = 32  # as long as the hash (RFC 2104, section 3)
KEY_VARIABLE = "REGDASH_KEY"
HASH_BYTES = 10  # 16 characters of base32: among ten million patients, two share a pseudonym once in 10^10 registers
_KEY_FORM = re.compile(r"[0-9a-f]{64}")


@dataclass(frozen=True)
class Pseudonyms:
    """Turns patient numbers into pseudonyms: `Q` and 16 characters of base32 of their HMAC-SHA-256."""

    key: bytes = field(repr=False)

    @property
    def fingerprint(self) -> str:
        """Tells one key from another, and does not give it away."""
        return hmac.digest(self.key, b"fingerprint of the key", "sha256").hex()[:16]

    def of(self, number: str, scope: str) -> str:
        """
        Give the pseudonym of a number; an empty cell stays empty.

        `scope` is the sender whose own numbers these are, since two hospitals give the same number to different
        patients; it is empty where all senders share one kind of number.

        >>> Pseudonyms(bytes(32)).of("123", "H001") == Pseudonyms(bytes(32)).of(" 123 ", "H001")
        True
        >>> Pseudonyms(bytes(32)).of("123", "H001") == Pseudonyms(bytes(32)).of("123", "H002")
        False
        """
        plain = (number if number.isascii() else unicodedata.normalize("NFC", number)).strip()
        if not plain:
            return ""
        hashed = hmac.digest(self.key, f"{scope}\0{plain}".encode(), "sha256")
        return "Q" + base64.b32encode(hashed[:HASH_BYTES]).decode("ascii")


@dataclass(frozen=True)
class Naming:
    """How the numbers of one submission become pseudonyms."""

    pseudonyms: Pseudonyms
    scope: str

    def of(self, number: str) -> str:
        """Give the pseudonym of a number."""
        return self.pseudonyms.of(number, self.scope)


def new_key(path: Path) -> None:
    """
    Write a new key into a file of its own.

    Raises:
        InputError: the file is there already, cannot be written, or would stand inside a store.
    """
    _refuse_inside_a_store(path)
    try:
        descriptor = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    except FileExistsError:
        raise InputError(f"{path} is there already, and a key is never written over. Name a new file.") from None
    except OSError as fault:
        raise InputError(f"The key {path} cannot be written: {fault.strerror}. Name another place.") from None
    with os.fdopen(descriptor, "w", encoding="ascii") as file:
        file.write(secrets.token_hex(KEY_BYTES) + "\n")
        file.flush()
        os.fsync(file.fileno())


def read_key(path: Path) -> Pseudonyms:
    """
    Read a key, if nobody but its owner can.

    Raises:
        InputError: it is missing, is no key, others may read it, or it stands inside a store.
    """
    _refuse_inside_a_store(path)
    try:
        with path.open("rb") as file:
            mode = os.fstat(file.fileno()).st_mode
            text = file.read(200)
    except OSError as fault:
        raise InputError(
            f"The key {path} cannot be read: {fault.strerror}. Make one with: regdash new-key FILE"
        ) from None
    if stat.S_IMODE(mode) & 0o077:
        raise InputError(
            f"The key {path} may be read or changed by others (mode {stat.S_IMODE(mode):o}). "
            f"Take that away with: chmod 600 {path}"
        )
    written = text.decode("ascii", "replace").strip()
    if not _KEY_FORM.fullmatch(written):
        raise InputError(f"{path} is not a key of this program. Make one with: regdash new-key FILE")
    return Pseudonyms(bytes.fromhex(written))


def _refuse_inside_a_store(path: Path) -> None:
    for folder in (path.parent.absolute(), *path.resolve().parents, *path.parent.absolute().parents):
        if (folder / REGISTRY_FILE).exists():
            raise InputError(
                f"The key {path} would stand inside the store {folder}, where it protects nothing. "
                "Keep it in a place that is not copied with the store."
            )
