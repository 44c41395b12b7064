"""
Set everything up, then open the dashboard on a synthetic register: python3 scripts/start.py

Arguments go to `regdash demo`: --joints N, --seed N, --no-browse, --store DIR.
"""

import os
import sys

import oldest_python

oldest_python.require()

import environment


def main() -> None:
    """Make `.venv` where needed and become `regdash demo`."""
    environment.prepare("run")
    program = str(environment.VENV / "bin" / "regdash")
    os.execve(program, [program, "demo", *sys.argv[1:]], environment.environ())


if __name__ == "__main__":
    environment.one_line(main)
