"""The built wheel works by itself, away from the checkout."""

import os
import subprocess
import sys
import sysconfig
import zipfile
from pathlib import Path

import pytest

import regdash

ROOT = Path(__file__).resolve().parent.parent


@pytest.fixture(scope="module")
def wheel(tmp_path_factory) -> Path:
    """Build it with what is installed here, so that no network is needed."""
    out = tmp_path_factory.mktemp("dist")
    command = [sys.executable, "-m", "build", "--wheel", "--no-isolation", "--outdir", str(out), str(ROOT)]
    subprocess.run(command, check=True, capture_output=True)
    return next(out.glob("regdash-*.whl"))


@pytest.fixture(scope="module")
def outside(wheel, tmp_path_factory) -> Path:
    """A folder with an environment that holds the wheel, and the locked packages by reference."""
    folder = tmp_path_factory.mktemp("outside")
    venv = folder / "venv"
    subprocess.run([sys.executable, "-m", "venv", "--without-pip", str(venv)], check=True)
    pip = [sys.executable, "-m", "pip", "--python", str(venv / "bin" / "python"), "install"]
    subprocess.run([*pip, "--no-deps", "--no-index", "--quiet", str(wheel)], check=True, capture_output=True)
    packages = next(venv.glob("lib/python*/site-packages"))
    # A folder named in a .pth file has its own .pth files ignored: the checkout stays out of sight.
    (packages / "locked.pth").write_text(sysconfig.get_path("purelib") + "\n")
    return folder


def run(outside: Path, program: str, *arguments: str) -> str:
    environ = {name: value for name, value in os.environ.items() if name != "PYTHONPATH"}
    command = [str(outside / "venv" / "bin" / program), *arguments]
    ran = subprocess.run(command, cwd=outside, env=environ, capture_output=True, text=True, check=False)
    assert ran.returncode == 0, ran.stderr
    return ran.stdout


def test_it_holds_every_file_of_the_program_its_statements_and_the_synthetic_registry(wheel):
    moved = {"regdash": "regdash", "sql": "regdash/_sql", "synthetic_registry": "synthetic_registry"}
    wanted = {
        f"{place}/{path.relative_to(ROOT / folder).as_posix()}": path.read_bytes()
        for folder, place in moved.items()
        for path in (ROOT / folder).rglob("*")
        if path.is_file() and "__pycache__" not in path.parts
    }
    with zipfile.ZipFile(wheel) as archive:
        held = {name: archive.read(name) for name in archive.namelist() if ".dist-info/" not in name}
    assert held == wanted


def test_its_command_answers(outside):
    assert "risk" in run(outside, "regdash", "--help")


def test_it_reads_its_own_statements_and_not_those_of_a_checkout(outside):
    script = (
        "from regdash.store import sqlfiles\n"
        "print(sqlfiles.sql_folder())\n"
        "print(*(file.name for file in sqlfiles.views_in_order()))\n"
    )
    folder, views = run(outside, "python", "-c", script).splitlines()
    assert folder.startswith(str(outside))
    assert "follow_up" in views.split() or "implant_use" in views.split()


def test_it_brings_the_synthetic_registry(outside):
    assert run(outside, "python", "-c", "import synthetic_registry as s; print(s.__file__)").startswith(str(outside))


def test_it_says_its_licence_and_version(outside):
    script = (
        "from importlib.metadata import metadata as m; print(*map(m('regdash').get, ['License-Expression', 'Version']))"
    )
    assert run(outside, "python", "-c", script).split() == ["MIT", regdash.__version__]
