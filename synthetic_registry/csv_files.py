"""
Writing CSV tables and envelopes: a frame once into memory, then each submission's slice into its own file.
"""

import io
import itertools
import json
import os
from collections.abc import Mapping, Sequence
from pathlib import Path

import numpy as np
import polars as pl

from regdash import dictionary


def csv_slices(frame: pl.DataFrame, bounds: np.ndarray) -> list[bytes]:
    """
    Write a frame as CSV and cut it.

    Args:
        frame: columns in the order of the file; no cell needs quotes.
        bounds: (n + 1,) rows at which the n slices begin and end.

    Returns:
        The n slices, each under a header line.
    """
    header = (",".join(frame.columns) + "\n").encode()
    buffer = io.BytesIO()
    frame.write_csv(buffer, include_header=False, quote_style="never")
    text = buffer.getvalue()
    ends = np.append(0, np.flatnonzero(np.frombuffer(text, np.uint8) == ord("\n")) + 1)
    cuts = ends[bounds].tolist()
    return [header + text[low:high] for low, high in itertools.pairwise(cuts)]


def write_file(path: str | Path, content: bytes) -> None:
    """Write a whole file at once."""
    handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o666)
    try:
        os.write(handle, content) if content else None
    finally:
        os.close(handle)


def envelope(
    kind: str, sender: str, name: str, sequence: int, received: str, complete_through: str, files: Mapping[str, int]
) -> bytes:
    """Write what a submission says of itself."""
    said = (dictionary.SCHEMA_VERSION, kind, sender, name, sequence, received, complete_through, dict(files))
    fields = dict(zip(dictionary.ENVELOPE_FIELDS, said, strict=True))
    return (json.dumps(fields, separators=(",", ":")) + "\n").encode()


def write_submission(folder: str | Path, said: bytes, tables: Mapping[str, bytes]) -> None:
    """Write one submission: its envelope and its tables."""
    os.makedirs(folder)
    write_file(f"{folder}/{dictionary.ENVELOPE_NAME}", said)
    for table, content in tables.items():
        write_file(f"{folder}/{table}.csv", content)


def columns_of(table: str) -> Sequence[str]:
    """Name a table's columns in the order of its file."""
    return dictionary.TABLES[table]
