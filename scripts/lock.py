"""
Make the lock files again from pyproject.toml, and look for a wheel of everything in them.

Run it after a change of dependencies; it needs uv (`pip install uv`) and a network. Versions stay as
they are where they still fit; `--upgrade`, or `--upgrade-package NAME`, moves them on.
"""

import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

from environment import LOCKS, ROOT, VENV

PYTHONS = ("3.11", "3.12", "3.13")
PLATFORMS = ("x86_64-manylinux_2_28", "aarch64-manylinux_2_28", "x86_64-apple-darwin", "aarch64-apple-darwin")

# One version of each package for every Python, so that every figure comes from the same arithmetic.
_COMPILE = (
    *("--group", "build", "--universal", "--python-version", PYTHONS[0], "--fork-strategy", "fewest"),
    *("--generate-hashes", "--no-emit-index-url", "--quiet"),
    *("--custom-compile-command", "python3 scripts/lock.py"),
)


def find_uv() -> str:
    """Find uv beside the project's Python or on the path."""
    uv = shutil.which("uv", path=str(VENV / "bin")) or shutil.which("uv")
    if uv is None:
        sys.exit("uv is not installed; it makes the lock files. Run: pip install uv")
    return uv


def compile_locks(uv: str, options: list[str]) -> None:
    """Write both files; the one for tests keeps the versions of the other."""
    run, test = (str(path.relative_to(ROOT)) for path in (LOCKS["run"], LOCKS["test"]))
    command = [uv, "pip", "compile", "pyproject.toml", *_COMPILE, *options]
    subprocess.run([*command, "--output-file", run], cwd=ROOT, check=True)
    subprocess.run([*command, "--extra", "test", "--constraints", run, "--output-file", test], cwd=ROOT, check=True)


def missing_wheels(uv: str, lock: Path, python: str, platform: str) -> str:
    """Ask for everything as wheels, without installing: what could not be had, or nothing."""
    with tempfile.TemporaryDirectory() as folder:
        where = ("--target", folder, "--python-version", python, "--python-platform", platform)
        how = ("--dry-run", "--require-hashes", "--only-binary", ":all:", "--no-deps", "--quiet")
        command = [uv, "pip", "install", *how, *where, "-r", str(lock)]
        return subprocess.run(command, capture_output=True, text=True, check=False).stderr.strip()


def main() -> None:
    """Make the files, then check them for each Python and platform."""
    uv = find_uv()
    compile_locks(uv, sys.argv[1:])
    failed = False
    for python in PYTHONS:
        for platform in PLATFORMS:
            problem = missing_wheels(uv, LOCKS["test"], python, platform)
            failed |= bool(problem)
            print(f"Python {python} on {platform}: {problem or 'a wheel of everything'}")
    sys.exit(failed)


if __name__ == "__main__":
    main()
