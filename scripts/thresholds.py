"""
What the screen does at its thresholds, measured on synthetic registers whose truth is known.

    python3 scripts/thresholds.py study    implants of known ratios, screened quarter by quarter with each threshold set
    python3 scripts/thresholds.py seeds    what is planted in registers of a million joints, and found by one screen

Writes its tables into README.md and DEVELOPERS.md between their marks, `scripts/thresholds.csv` and
`scripts/pictures/thresholds.svg`; with --print it prints them and writes nothing. The same program and seed find the
same; --registers and --joints make it smaller.
"""

import argparse
import os
import sys
import time
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import environment

if TYPE_CHECKING:
    from threshold_seeds import Seed
    from threshold_study import Studied, Thresholds

SCRIPTS = environment.ROOT / "scripts"
TABLE, CHART = SCRIPTS / "thresholds.csv", SCRIPTS / "pictures" / "thresholds.svg"
SETS, SHIPPED, SEEDS = "thresholds beside each other", "the shipped thresholds", "registers of a million joints"


def between_marks(text: str, part: str, lines: Sequence[str]) -> str:
    """
    Put lines in the place of what stands between the marks of a part.

    Raises:
        ValueError: the text has not one pair of marks.

    >>> between_marks("a\\n<!-- made: x -->\\nold\\n<!-- end: x -->\\nb", "x", ["new"])
    'a\\n<!-- made: x -->\\nnew\\n<!-- end: x -->\\nb'
    """
    start, end = f"<!-- made: {part} -->\n", f"<!-- end: {part} -->"
    if text.count(start) != 1 or text.count(end) != 1:
        raise ValueError(f"Put {start.strip()} and {end} once each where the table of {part} belongs.")
    before, after = text.split(start)[0], text.split(end)[1]
    return before + start + "".join(f"{line}\n" for line in lines) + end + after


def study_parts(studied: "Sequence[Studied]", sets: "Sequence[Thresholds]", minutes: float) -> dict[str, list[str]]:
    """Write the tables of the study, each with what was simulated for it."""
    from threshold_study import DESIGNS
    from threshold_tables import sets_table, shipped_table

    sizes = " and ".join(f"{design.joints:,}" for design in DESIGNS)
    implants = sum(len(one.planted) for one in studied)
    told = [
        f"{len(studied)} synthetic registers of {sizes} knees with {implants} implants that are introduced in the",
        "eighth year and have a known ratio to all others of their class; forty quarters each, screened with what was",
        f"known at their ends; {minutes:.0f} minutes of one core. In % (95 % limits): called out by ten years of use,",
        "in any window; then, where that is more than half, the median of quarters from first use to first signal.",
    ]

    last = [
        "Signals are those of one register at the last quarter, implants in windows and roles, and false of them those",
        "with a true ratio at or under the stated one; both are means over registers. The shipped set stands first.",
    ]
    return {SETS: [*told, *last, "", *sets_table(studied, sets)], SHIPPED: [*told, "", *shipped_table(studied)]}


def run_study(registers: int | None, seed: int, *, write: bool) -> None:
    """Simulate and screen, then write or print."""
    from threshold_study import DESIGNS, studies, threshold_sets
    from threshold_tables import chart, csv_lines

    designs = [design if registers is None else replace(design, registers=registers) for design in DESIGNS]
    sets, studied, of = threshold_sets(), [], sum(design.registers for design in designs)
    for number, one in enumerate(studies(designs, sets, seed), 1):
        studied.append(one)
        print(f"\rregister {number} of {of}", end="", file=sys.stderr, flush=True)
    print(file=sys.stderr)
    parts = study_parts(studied, sets, time.process_time() / 60)
    if write:
        TABLE.write_text("\n".join(csv_lines(studied, sets)) + "\n", encoding="utf-8")
        CHART.write_text(chart(studied, sets), encoding="utf-8")
    tell(parts, write=write)


def run_seeds(count: int, joints: int, seed: int, *, write: bool) -> None:
    """Screen large registers, then write or print."""
    from threshold_seeds import screened_seed
    from threshold_tables import seeds_sentences, seeds_table

    found: list[Seed] = []
    for number in range(seed, seed + count):
        print(f"\rregister {number}", end="", file=sys.stderr, flush=True)
        found.append(screened_seed(joints, number))
    print(file=sys.stderr)
    tell({SEEDS: [*seeds_sentences(found, joints), "", *seeds_table(found)]}, write=write)


def tell(parts: dict[str, list[str]], *, write: bool) -> None:
    """Write parts into the pages that have their marks, or print them."""
    pages = {SETS: "README.md", SHIPPED: "DEVELOPERS.md", SEEDS: "DEVELOPERS.md"}
    for part, lines in parts.items():
        if not write:
            print("\n".join([*lines, ""]))
            continue
        page = environment.ROOT / pages[part]
        page.write_text(between_marks(page.read_text(encoding="utf-8"), part, lines), encoding="utf-8")


def main() -> None:
    """Do what was asked, in the project's own environment."""
    environment.prepare("run")
    if Path(sys.prefix) != environment.VENV:
        os.execv(environment.python(), [str(environment.python()), *sys.argv])
    parser = argparse.ArgumentParser(description="Measure what the screen does at its thresholds.")
    parser.add_argument("what", choices=("study", "seeds"))
    parser.add_argument("--registers", type=int, help="of each size for the study, in fives; for seeds 10 if left out")
    parser.add_argument("--joints", type=int, default=1_000_000, help="of each register of seeds")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--print", action="store_true", help="print the tables, and write nothing")
    asked = parser.parse_args()
    if asked.what == "study" and asked.registers and asked.registers % 5:
        parser.error("--registers of a study is a multiple of 5, so that each number of uses meets each ratio.")
    if asked.what == "study":
        run_study(asked.registers, asked.seed, write=not asked.print)
    else:
        run_seeds(asked.registers or 10, asked.joints, asked.seed, write=not asked.print)


if __name__ == "__main__":
    environment.one_line(main)
