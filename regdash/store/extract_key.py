"""
The key that orders the rows of extracts. It stays in the office file: with it an extract can be made again, and without
it nobody can work out which row a joint has, not even from a pseudonym that they hold.
"""

import secrets
from pathlib import Path

from regdash.store.office import now, office_rows, writing_office
from regdash.store.sqlfiles import statement

TABLE = "extract_keys"


def extract_key(store: Path) -> bytes | None:
    """
    Read the key; None where no extract was ever made.

    Raises:
        StoreError: the office file cannot be read.
    """
    rows = office_rows(store, TABLE, "office/extract_key", {})
    return bytes.fromhex(rows[0][0]) if rows else None


def made_extract_key(store: Path) -> bytes:
    """
    Read the key, made now where there was none.

    Raises:
        StoreError: the office file cannot be written.
    """
    if (key := extract_key(store)) is not None:
        return key
    with writing_office(store) as office:
        office.execute(statement("office/make_extract_key"), {"key": secrets.token_hex(32), "made_at": now()})
        ((text,),) = office.execute(statement("office/extract_key")).fetchall()
    return bytes.fromhex(text)
