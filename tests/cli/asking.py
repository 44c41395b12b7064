"""The command line in one process, as scripts see it: what it wrote on each channel, and its exit code."""

import csv
import io
import json
import os
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from click.testing import CliRunner

from regdash.cli.main import cli

PROGRAM = [sys.executable, "-c", "from regdash.cli.main import main; main()"]
CHECKOUT = Path(__file__).parent.parent.parent


@dataclass(frozen=True)
class Said:
    """What a command wrote and how it ended."""

    stdout: str
    stderr: str
    code: int

    @property
    def json(self) -> Any:
        return json.loads(self.stdout)

    @property
    def csv(self) -> list[dict[str, str]]:
        return list(csv.DictReader(io.StringIO(self.stdout, newline=""), strict=True))


def regdash(*words: object, store: Path | None = None, stdin: str | None = None) -> Said:
    """Run a command in this process. An exception that is no refusal is a bug, and raised."""
    arguments = [*map(str, words), *(["--store", str(store)] if store else [])]
    result = CliRunner().invoke(cli, arguments, input=stdin, prog_name="regdash")
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    return Said(result.stdout_bytes.decode("utf-8"), result.stderr, result.exit_code)


def process(*words: object, **more: Any) -> subprocess.Popen[str]:
    """Start a command as a process of its own."""
    environ = os.environ | {"PYTHONPATH": str(CHECKOUT), **more.pop("env", {})}
    pipes = {"stdin": subprocess.DEVNULL, "stdout": subprocess.PIPE, "stderr": subprocess.PIPE} | more
    return subprocess.Popen([*PROGRAM, *map(str, words)], env=environ, text=True, **pipes)


def one_line(said: Said) -> str:
    """The only thing said: one line on standard error, and nothing on standard output."""
    assert said.stdout == ""
    assert said.stderr.endswith("\n")
    (line,) = said.stderr.splitlines()
    return line


def words_in(text: str) -> list[str]:
    """Write a list of names in one line."""
    return text.split()
