"""
Registers that several tests look at, and plain readers of the files: written without the program's own intake.
"""

import io
import json
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

import numpy as np
import polars as pl

from synthetic_registry import Made


@dataclass(frozen=True)
class Files:
    """A register's files, read back as text."""

    made: Made

    def hospital_table(self, table: str) -> pl.DataFrame:
        """All rows of one of the hospitals' tables, with the submission that brought each."""
        return read(sorted(self.made.out.glob(f"submissions/*/*/{table}.csv")))

    def feed(self, table: str) -> pl.DataFrame:
        """All rows of one of the office's tables, with the feed that brought each."""
        return read(sorted(self.made.out.glob(f"feeds/*/*/{table}.csv")))

    @cached_property
    def operations(self) -> pl.DataFrame:
        return self.hospital_table("operations")

    @cached_property
    def components(self) -> pl.DataFrame:
        return self.hospital_table("components")

    @cached_property
    def reasons(self) -> pl.DataFrame:
        return self.hospital_table("reasons")

    @cached_property
    def catalogue(self) -> pl.DataFrame:
        return self.feed("catalogue")

    @cached_property
    def envelopes(self) -> dict[str, dict[str, Any]]:
        """Every envelope by the path of its folder."""
        return {str(path.parent): json.loads(path.read_text()) for path in sorted(self.made.out.rglob("envelope.json"))}

    @cached_property
    def sent(self) -> pl.DataFrame:
        """When each hospital's submission was received, and through which day it is complete."""
        rows = [
            (said["id"], said["received_date"], said["complete_through"])
            for said in self.envelopes.values()
            if said["kind"] == "operations"
        ]
        return pl.DataFrame(rows, schema=["submission", "received", "through"], orient="row")

    def key(self, name: str) -> pl.DataFrame:
        """A table of the key."""
        return pl.read_csv(self.made.key / f"{name}.csv", infer_schema=False)

    @cached_property
    def faults(self) -> pl.DataFrame:
        return self.key("faults").rename({"kind": "fault"})

    @cached_property
    def planted(self) -> dict[str, Any]:
        return json.loads((self.made.key / "planted.json").read_text())

    def fault(self, kind: str) -> pl.DataFrame:
        """All faults of one kind."""
        return self.faults.filter(pl.col("fault") == kind)


def read(paths: list[Path]) -> pl.DataFrame:
    """Read CSV files of one kind as text; `submission` is the folder's name."""
    parts = [path.read_bytes().partition(b"\n") for path in paths]
    bodies = [body for _, _, body in parts]
    frame = pl.read_csv(io.BytesIO(parts[0][0] + b"\n" + b"".join(bodies)), infer_schema=False)
    names, rows = [path.parent.name for path in paths], [body.count(b"\n") for body in bodies]
    return frame.with_columns(submission=pl.Series(np.repeat(names, rows).tolist(), dtype=pl.String))


def tree(folder: Path) -> dict[str, bytes]:
    """Every file below a folder."""
    return {str(path.relative_to(folder)): path.read_bytes() for path in sorted(folder.rglob("*")) if path.is_file()}


def net_risk(days: np.ndarray, revised: np.ndarray, years: tuple[float, ...]) -> tuple[np.ndarray, np.ndarray]:
    """1 - Kaplan-Meier and its standard error (Greenwood), written plainly; (years,) each."""
    last = int(days.max())
    left = np.bincount(days, minlength=last + 1)
    events = np.bincount(days[revised], minlength=last + 1)
    at_risk = left[::-1].cumsum()[::-1]
    survival = np.cumprod(1 - events / at_risk)
    variance = np.cumsum(events / np.maximum(at_risk * (at_risk - events), 1))
    at = np.minimum((np.array(years) * 365.25).astype(int), last)
    return 1 - survival[at], survival[at] * np.sqrt(variance[at])
