"""
`python -m synthetic_registry OUT --joints N --only knee --seed N --clean --key DIR`
"""

import argparse
import sys
import time
from datetime import date
from pathlib import Path

from regdash import vocabulary as words
from regdash.errors import RegdashError
from synthetic_registry import make
from synthetic_registry.simulation import THROUGH


def main() -> int:
    """Make a register and say what was made."""
    parser = argparse.ArgumentParser(prog="python -m synthetic_registry", description=__doc__)
    parser.add_argument("out", type=Path, help="folder for the submissions and feeds, new or empty")
    parser.add_argument("--joints", type=int, default=20_000, help="how many primary joints (20000)")
    parser.add_argument(
        "--only",
        action="append",
        choices=words.JOINTS,
        help="this kind of joint alone; may be given twice (all three, about 52 %% knees, 42 %% hips, 6 %% shoulders)",
    )
    parser.add_argument("--seed", type=int, default=1, help="the same seed gives the same bytes (1)")
    parser.add_argument("--clean", action="store_true", help="no faults and no delay")
    parser.add_argument("--key", type=Path, help="folder for the truth (OUT-key)")
    parser.add_argument("--through", type=date.fromisoformat, default=THROUGH, help=f"last day ({THROUGH})")
    asked = parser.parse_args()
    began = time.perf_counter()
    try:
        made = make(
            *(asked.out, asked.joints, asked.seed, asked.clean, asked.key, asked.through),
            progress=_say,
            only=asked.only or words.JOINTS,
        )
    except RegdashError as error:
        print(error, file=sys.stderr)
        return 1
    print(
        f"{made.joints:,} joints of {made.patients:,} patients; {made.operations:,} operation records in "
        f"{made.submissions:,} submissions, {made.rows:,} rows in all; {made.faults:,} faults. "
        f"Data: {made.out}  Key: {made.key}  ({time.perf_counter() - began:.1f} s)"
    )
    return 0


def _say(text: str, done: float) -> None:
    if sys.stderr.isatty():
        print(f"\r{done:4.0%}  {text:<40}", end="\n" if done == 1 else "", file=sys.stderr, flush=True)


if __name__ == "__main__":
    sys.exit(main())
