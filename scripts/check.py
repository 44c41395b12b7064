"""
Set everything up, then run every check: python3 scripts/check.py [--slow] [arguments for pytest]

Each check runs, whatever the others say; the exit code is 0 only if all of them passed.
"""

import argparse
import os
import subprocess
import time

import oldest_python

oldest_python.require()

import environment
from environment import ROOT, say

# Name, and what to run in `.venv`. The tests come last, so that a log ends with their summary.
CHECKS = (
    ("ruff check", ("ruff", "check", ".")),
    ("ruff format", ("ruff", "format", "--check", ".")),
    ("types", ("mypy",)),
    ("import contracts", ("lint-imports", "--no-logo")),
)


def pytest_command(slow: bool, arguments: list[str]) -> tuple[str, ...]:
    """
    The tests, on one process more than there are cores, four at most; --slow lifts the default choice.

    One more, since tests of the dashboard and of other processes wait as often as they work. `tests/conftest.py` says
    which tests stay together, so that what they share is made once.
    """
    workers = str(min((os.cpu_count() or 1) + 1, 4))
    return ("pytest", "-n", workers, "--dist", "loadgroup", *(("-m", "") if slow else ()), *arguments)


def passes(name: str, command: tuple[str, ...]) -> bool:
    """Run one check from the top of the checkout and say how it went and how long it took."""
    say(f"── {name}")
    began = time.monotonic()
    program = str(environment.VENV / "bin" / command[0])
    code = subprocess.run([program, *command[1:]], cwd=ROOT, env=environment.environ(), check=False).returncode
    say(f"── {name}: {'passed' if code == 0 else f'FAILED (exit code {code})'}, {time.monotonic() - began:.1f} s")
    return code == 0


def main() -> None:
    """Run all checks and leave with 1 if any failed."""
    parser = argparse.ArgumentParser(description="Set everything up and run every check.")
    parser.add_argument("--slow", action="store_true", help="run the slow tests too")
    options, arguments = parser.parse_known_args()
    environment.prepare("test")
    began = time.monotonic()
    checks = (*CHECKS, ("tests", pytest_command(options.slow, arguments)))
    failed = [name for name, command in checks if not passes(name, command)]
    took = f"{time.monotonic() - began:.0f} s"
    say(f"Failed: {', '.join(failed)} ({took})" if failed else f"All {len(checks)} checks passed ({took})")
    raise SystemExit(1 if failed else 0)


if __name__ == "__main__":
    environment.one_line(main)
