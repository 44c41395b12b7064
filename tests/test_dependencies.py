"""Whoever installs the program has every library that it imports."""

import ast
import sys
import tomllib
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
OURS = {"regdash", "synthetic_registry"}


def imported() -> set[str]:
    """Libraries that any file of the program imports, at its top or where used."""
    names: set[str] = set()
    for path in [file for folder in sorted(OURS) for file in (ROOT / folder).rglob("*.py")]:
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Import):
                names |= {alias.name.partition(".")[0] for alias in node.names}
            elif isinstance(node, ast.ImportFrom) and node.module and not node.level:
                names.add(node.module.partition(".")[0])
    return names - sys.stdlib_module_names - OURS


def named() -> set[str]:
    """What pyproject.toml has installed with the program, without the extras of tests."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    return {text.split(">")[0].split("=")[0] for text in project["dependencies"]}


def test_every_library_that_the_program_imports_is_installed_with_it_and_no_other():
    assert imported() == named()


def test_every_library_of_the_program_is_locked():
    lock = (ROOT / "scripts" / "requirements.lock").read_text(encoding="utf-8").splitlines()
    assert named() <= {line.partition("==")[0] for line in lock if "==" in line}
