"""What everybody was told before: counts and numbers of 100 of an earlier public edition, read back from its folder."""

import csv
import hashlib
import io
import json
from collections.abc import Sequence
from dataclasses import dataclass, field
from fnmatch import fnmatch
from pathlib import Path
from typing import Any

import numpy as np

from regdash.errors import SummaryError
from regdash.output.record import WITHHELD
from regdash.summary.output import REPRODUCTION
from regdash.summary.recipient import PUBLIC

UNTOLD = -1
TABLE = "operations-{joint}"


@dataclass(frozen=True)
class Released:
    """The counts of one quarter, and the risks up to its cut, that were told to everybody."""

    quarter: str
    counts: dict[str, dict[tuple[str, str], int | None]]  # by joint, then class and age; None where withheld
    risks: dict[str, dict[float, int]] = field(default_factory=dict)  # most people of 100 ever, by table, then years
    earlier: dict[str, dict[tuple[str, str], int]] = field(default_factory=dict)  # told in editions before this one

    @property
    def facts(self) -> dict[str, Any]:
        """As recorded beside a summary; everybody has these figures already."""
        told, earlier = (
            {joint: [[*cell, number] for cell, number in cells.items()] for joint, cells in of.items()}
            for of in (self.counts, self.earlier)
        )
        risks = {table: [[years, number] for years, number in of.items()] for table, of in self.risks.items()}
        return {"quarter": self.quarter, "counts": told, "risks": risks, "earlier": earlier}

    def table(self, joint: str, classes: Sequence[str], ages: Sequence[str]) -> np.ndarray:
        """Lay the counts out by class and age; 0 where there was no such line or column, UNTOLD where withheld."""
        cells = self.counts.get(joint, {})
        told = [[cells.get((one, other), 0) for other in ages] for one in classes]
        return np.array([[UNTOLD if number is None else number for number in row] for row in told], dtype=np.int64)

    def least(self, joint: str, classes: Sequence[str], ages: Sequence[str]) -> np.ndarray:
        """Lay out the most that was told of each, now or before; counts seldom fall. 0 where nothing was told."""
        cells = self.told_ever.get(joint, {})
        return np.array([[cells.get((one, other), 0) for other in ages] for one in classes], dtype=np.int64)

    @property
    def told_ever(self) -> dict[str, dict[tuple[str, str], int]]:
        """The most that was told of each count, in this edition or before."""
        found = {joint: dict(cells) for joint, cells in self.earlier.items()}
        for joint, cells in self.counts.items():
            of = found.setdefault(joint, {})
            of |= {cell: max(number, of.get(cell, 0)) for cell, number in cells.items() if number is not None}
        return found


def released_of(facts: dict[str, Any] | None) -> Released | None:
    """
    Read what was recorded beside a summary.

    Raises:
        SummaryError: it was not written so.
    """
    if facts is None:
        return None
    try:
        told, earlier = (
            {joint: {(one, other): n for one, other, n in cells} for joint, cells in of.items()}
            for of in (facts["counts"], facts.get("earlier", {}))
        )
        risks = {table: {float(years): n for years, n in of} for table, of in facts.get("risks", {}).items()}
        return Released(facts["quarter"], told, risks, earlier)
    except (KeyError, TypeError, ValueError, AttributeError):
        raise SummaryError("The recorded counts of an earlier edition cannot be read.") from None


def read_released(folder: Path, joints: Sequence[str]) -> Released:
    """
    Read the counts of a public edition from its folder, as they were given out.

    Raises:
        SummaryError: it is no such folder, or a table is not as it was written.
    """
    try:
        record = json.loads((folder / REPRODUCTION).read_text(encoding="utf-8"))
        if record["recipient"] != PUBLIC:
            raise SummaryError(f"{folder} holds the edition for {record['recipient']}; --previous names a public one.")
        paths = {joint: f"tables/{TABLE.format(joint=joint)}.csv" for joint in joints}
        told = {
            joint: _cells((folder / path).read_bytes(), record["files"][path])
            for joint, path in paths.items()
            if path in record["files"]
        }
        before = released_of(record.get("told_before"))
        earlier = before.told_ever if before and before.quarter == record["quarter"] else {}
        risks = _risks(folder, record["files"])
        for table, numbers in (before.risks if before else {}).items():
            of = risks.setdefault(table, {})
            of |= {years: max(number, of.get(years, 0)) for years, number in numbers.items()}
        return Released(str(record["quarter"]), told, risks, earlier)
    except (OSError, ValueError, KeyError, TypeError):
        raise SummaryError(f"{folder} is no folder of a public edition as it was written.") from None


def _risks(folder: Path, files: dict[str, str]) -> dict[str, dict[float, int]]:
    paths = [path for path in files if fnmatch(path, "tables/risk-*.csv")]
    found = {}
    for path in paths:
        rows = _rows((folder / path).read_bytes(), files[path])
        told = {float(row["years"]): int(row["in_100"]) for row in rows if row["in_100"] != WITHHELD}
        found[Path(path).stem] = told
    return found


def _rows(data: bytes, checksum: str) -> list[dict[str, str]]:
    if hashlib.sha256(data).hexdigest() != checksum:
        raise ValueError
    return list(csv.DictReader(io.StringIO(data.decode("utf-8"), newline="")))


def _cells(data: bytes, checksum: str) -> dict[tuple[str, str], int | None]:
    rows = _rows(data, checksum)
    return {(row["class"], row["age"]): None if row["joints"] == WITHHELD else int(row["joints"]) for row in rows}
