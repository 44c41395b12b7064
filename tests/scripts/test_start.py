"""The first command ends as `regdash demo`, in the environment it made."""

import os
import sys

import environment
import start


def test_it_becomes_the_demo_with_its_arguments_passed_on(monkeypatch, tmp_path):
    done = []
    monkeypatch.setattr(environment, "VENV", tmp_path)
    monkeypatch.setattr(environment, "prepare", lambda size: done.append(size))
    monkeypatch.setattr(os, "execve", lambda *how: done.append(how))
    monkeypatch.setattr(sys, "argv", ["start.py", "--joints", "5000"])
    start.main()
    size, (program, command, environ) = done
    assert size == "run"
    assert program == str(tmp_path / "bin" / "regdash")
    assert command == [program, "demo", "--joints", "5000"]
    assert environ["PATH"].startswith(str(tmp_path / "bin"))
