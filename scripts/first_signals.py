"""
How soon a screen would have seen what is planted: a register whose truth is known, screened quarter by quarter.

    python3 scripts/first_signals.py [--joints N] [--seed N]

The register goes the whole way (files with delay and dirt, receive, freeze), and each quarter is screened with what
was known then. For each planted implant, size and lot it prints when it was first used, in which quarter it was first
a signal, how long that took, and what was known by then. Prints the table that DEVELOPERS.md shows.
"""

import argparse
import json
import os
import sys
import tempfile
from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

import environment

if TYPE_CHECKING:
    from regdash.signals.history_model import HistoryReport

THROUGH = date(2024, 12, 31)
HEADINGS = ("planted", "unit", "factor", "first used", "first seen", "years", "joints", "revised", "quarters seen")


def replayed(folder: Path, joints: int, seed: int) -> tuple[dict[str, "HistoryReport"], dict[str, Any]]:
    """Make a register and take it all the way; give its histories by kind, and the key."""
    from regdash.cohort import Cohort
    from regdash.intake.receive import receive
    from regdash.signals.desk import SignalsDesk
    from regdash.store.freeze import freeze
    from synthetic_registry import make

    made = make(folder / "submitted", joints, seed)
    receive(folder / "store", [made.out])
    freeze(folder / "store", THROUGH)
    desk = SignalsDesk(folder / "store")
    try:
        found = {kind: desk.history(kind, Cohort()) for kind in ("implants", "sizes", "lots")}
    finally:
        desk.close()
    return found, json.loads((Path(made.key) / "planted.json").read_text(encoding="utf-8"))


def rows(found: dict[str, "HistoryReport"], planted: dict[str, Any]) -> Iterator[tuple[str, ...]]:
    """Write a row for everything planted; what no screen has seen has dashes."""
    for one in planted["implants"]:
        kind, code = "implants", one["implant"]
        if one["size"] != "all":
            kind, code = "sizes", f"{one['implant']} size {one['size']}"
        yield _row(found[kind], f"{one['joint']}, {one['kind']}", code, one["factor"])
    for one in planted["lots"]:
        yield _row(found["lots"], f"{one['joint']}, a lot", f"{one['implant']} lot {one['lot']}", one["factor"])


def _row(report: "HistoryReport", what: str, code: str, factor: float) -> tuple[str, ...]:
    told = sorted(report.of(code), key=lambda row: (row.first_seen is None, row.first_seen))
    if not told:
        return (what, code, f"{factor:g}", *["–"] * 6)
    row = told[0]
    used = row.first_used.isoformat() if row.first_used else "–"
    if row.first_seen is None or row.years_to_first_seen is None:
        return (what, code, f"{factor:g}", used, "never", *["–"] * 4)
    seen = f"{row.quarters_seen} of {row.quarters_since + 1}"
    counts = (f"{row.joints:,}", f"{row.revisions:,}")
    return (what, code, f"{factor:g}", used, row.first_seen, f"{row.years_to_first_seen:.1f}", *counts, seen)


def main() -> None:
    """Print the table, and how many other units were ever a signal."""
    environment.prepare("test")
    if Path(sys.prefix) != environment.VENV:
        os.execv(environment.python(), [str(environment.python()), *sys.argv])
    parser = argparse.ArgumentParser(description="Find how soon a screen would have seen what is planted.")
    parser.add_argument("--joints", type=int, default=200_000)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="regdash-first-signals-") as folder:
        found, planted = replayed(Path(folder), options.joints, options.seed)
    print(f"{options.joints:,} joints, seed {options.seed}")
    print(" | ".join(("", *HEADINGS, "")).strip())
    print("|---" * len(HEADINGS) + "|")
    for row in rows(found, planted):
        print(" | ".join(("", *row, "")).strip())
    for kind, report in found.items():
        ever = sum(row.first_seen is not None for row in report.rows)
        last = f"{report.signals[-1]:,} in the last quarter"
        print(f"{ever:,} of {len(report.rows):,} tested {kind} were ever a signal, {last}")


if __name__ == "__main__":
    environment.one_line(main)
