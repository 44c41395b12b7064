"""A Python that is too old hears so in one line, from files that it can still parse."""

import ast
import subprocess
import sys
from pathlib import Path

import oldest_python
import pytest

SCRIPTS = Path(__file__).resolve().parent.parent.parent / "scripts"


@pytest.mark.parametrize("version", [(2, 7, 18), (3, 8, 18), (3, 10, 13)])
def test_an_old_python_is_refused_in_one_line_that_names_both_versions(version):
    with pytest.raises(SystemExit) as refusal:
        oldest_python.require(version)
    line = str(refusal.value)
    assert "\n" not in line
    assert "3.11 or newer" in line
    assert f"{version[0]}.{version[1]}" in line


@pytest.mark.parametrize("version", [(3, 11, 0), (3, 13, 1), (4, 0, 0)])
def test_a_python_that_will_do_is_let_through(version):
    assert oldest_python.require(version) is None


@pytest.mark.parametrize("script", ["start.py", "check.py"])
def test_the_two_commands_say_it_before_they_import_what_an_old_python_cannot(script):
    pretend = f"import sys, runpy; sys.version_info = (3, 8, 18); runpy.run_path({str(SCRIPTS / script)!r})"
    environ = {"PYTHONPATH": str(SCRIPTS)}
    ran = subprocess.run([sys.executable, "-c", pretend], capture_output=True, text=True, env=environ, check=False)
    assert ran.returncode == 1
    assert ran.stdout == ""
    assert ran.stderr.count("\n") == 1
    assert "3.11 or newer" in ran.stderr


@pytest.mark.parametrize("script", ["start.py", "check.py", "oldest_python.py"])
def test_their_syntax_is_old(script):
    assert ast.parse((SCRIPTS / script).read_text(encoding="utf-8"), feature_version=(3, 7)).body
