"""Every check runs, and the exit code says whether all of them passed."""

import sys

import check
import environment
import pytest


@pytest.fixture
def ran(monkeypatch):
    """What ran; nothing is installed, and the checks named in `failing` fail."""
    ran, failing = [], set()

    def passes(name, command):
        ran.append((name, command))
        return name not in failing

    monkeypatch.setattr(environment, "prepare", lambda size: ran.append(("set-up", size)))
    monkeypatch.setattr(check, "passes", passes)
    monkeypatch.setattr(sys, "argv", ["check.py"])
    return ran, failing


def exit_code() -> int:
    with pytest.raises(SystemExit) as left:
        check.main()
    return left.value.code


def test_all_of_them_run_after_the_set_up_and_the_tests_last(ran):
    assert exit_code() == 0
    assert [name for name, _ in ran[0]] == ["set-up", "ruff check", "ruff format", "types", "import contracts", "tests"]


@pytest.mark.parametrize("name", ["ruff check", "types", "tests"])
def test_one_that_fails_stops_no_other_and_is_told_at_the_end(ran, name, capsys):
    ran[1].add(name)
    assert exit_code() == 1
    assert len(ran[0]) == 6
    assert f"Failed: {name}" in capsys.readouterr().err.splitlines()[-1]


def test_other_arguments_go_to_pytest_and_slow_lifts_the_default_choice(ran, monkeypatch):
    monkeypatch.setattr(sys, "argv", ["check.py", "--slow", "tests/stats", "-x"])
    exit_code()
    command = ran[0][-1][1]
    assert command[-4:] == ("-m", "", "tests/stats", "-x")
    assert "-m" not in check.pytest_command(False, [])


@pytest.mark.parametrize(("code", "passed"), [(0, True), (3, False)])
def test_a_check_passes_if_its_command_does(code, passed, monkeypatch, tmp_path, capsys):
    (tmp_path / "bin").mkdir()
    program = tmp_path / "bin" / "judge"
    program.write_text(f"#!/bin/sh\nexit {code}\n")
    program.chmod(0o755)
    monkeypatch.setattr(environment, "VENV", tmp_path)
    assert check.passes("a check", ("judge",)) is passed
    assert ("passed" if passed else "FAILED (exit code 3)") in capsys.readouterr().err
