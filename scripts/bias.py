"""
What dirt does to the figures: the same register made clean and then with one kind of dirt at a time.

    python3 scripts/bias.py [--joints N] [--seed N]

Each register goes the whole way (files, receive, freeze, risk). The lives are the same in all of them, so a
difference from the clean one is what that dirt does, and no chance; the clean one is held against the truth.
Prints the table that DEVELOPERS.md shows.
"""

import argparse
import dataclasses
import os
import sys
import tempfile
from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

import environment

if TYPE_CHECKING:
    from synthetic_registry.parameters import Parameters

    Variant = tuple[str, bool, bool, Parameters]  # its name, whether clean, whether delayed, what it is made from

YEARS = (1.0, 5.0, 10.0, 15.0)
THROUGH = date(2024, 12, 31)
LINKS = ("wrong_side", "missed_link", "missed_link_worst", "false_link", "revision_as_primary", "reasons_kept")


def variants() -> Iterator["Variant"]:
    """Name each register, say whether it is clean and whether it is delayed, and give its parameters."""
    from synthetic_registry.knee import KNEE

    def only(*kept: str) -> "Parameters":
        tables = ("missing", "odd")
        nothing: dict[str, Any] = {
            field.name: 0.0 for field in dataclasses.fields(KNEE.dirt) if field.name not in (*tables, *kept)
        }
        listed = {name: getattr(KNEE.dirt, name) if name in kept else {} for name in tables}
        return dataclasses.replace(KNEE, dirt=dataclasses.replace(KNEE.dirt, **nothing, **listed))

    others = [field.name for field in dataclasses.fields(KNEE.dirt) if field.name not in LINKS]
    yield "clean", True, False, KNEE
    yield "late rows alone", True, True, KNEE
    yield "late, with broken links", False, True, only(*LINKS, "clustering")
    yield "late, with faulty rows", False, True, only(*others)
    yield "all of it", False, True, KNEE


def risks(folder: Path, joints: int, seed: int, variant: "Variant") -> tuple[dict, int, int]:
    """Take one register all the way; give risks by class and year, and what was held and unlinked."""
    from regdash import grouping
    from regdash.cohort import Cohort
    from regdash.intake.receive import receive
    from regdash.reports.desk import Desk
    from regdash.store.freeze import freeze
    from synthetic_registry import make

    _, clean, delay, parameters = variant
    made = make(folder / "sent", joints, seed, clean=clean, delay=delay, parameters=parameters)
    receive(folder / "store", [made.out])
    freeze(folder / "store", THROUGH)
    desk = Desk(folder / "store")
    report = desk.risk(Cohort(), grouping.parse("class"), YEARS)
    desk.close()
    return (
        {(row.group, row.years): row.estimate for row in report.rows},
        report.head.held_revisions or 0,
        report.head.revisions or 0,
    )


def truth(joints: int, seed: int) -> dict[tuple[str, float], float]:
    """What the estimator tends to on these very joints, by class and year."""
    from synthetic_registry import simulate

    curves = simulate(joints, seed, prior=True).class_curves
    return {(name, years): curve.at(years)[0] for name, curve in curves.items() for years in YEARS}


def main() -> None:
    """Make every variant and print the table."""
    environment.prepare("run")
    if Path(sys.prefix) != environment.VENV:
        os.execv(environment.python(), [str(environment.python()), *sys.argv])
    parser = argparse.ArgumentParser(description="Measure what each kind of dirt does to the risks.")
    parser.add_argument("--joints", type=int, default=300_000)
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    true, rows = truth(asked.joints, asked.seed), []
    for variant in variants():
        print(f"{variant[0]} …", file=sys.stderr, flush=True)
        with tempfile.TemporaryDirectory() as folder:
            rows.append((variant[0], *risks(Path(folder), asked.joints, asked.seed, variant)))
    keys = [(name, years) for name in ("total", "partial") for years in YEARS]
    print(f"{asked.joints:,} joints, seed {asked.seed}; risks in %, differences in percentage points\n")
    print("| | " + " | ".join(f"{name} {years:.0f} y" for name, years in keys) + " | revised | held |")
    print("|---|" + "---|" * (len(keys) + 2))
    print("| true limit | " + " | ".join(f"{100 * true[key]:.2f}" for key in keys) + " | | |")
    clean = rows[0][1]
    for name, found, held, revised in rows:
        if name == "clean":
            cells = [f"{100 * found[key]:.2f}" for key in keys]
        else:
            cells = [f"{100 * (found[key] - clean[key]):+.2f}" for key in keys]
        print(f"| {name} | " + " | ".join(cells) + f" | {revised:,} | {held:,} |")


if __name__ == "__main__":
    environment.one_line(main)
