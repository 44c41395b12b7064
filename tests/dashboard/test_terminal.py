"""Once in a real pseudo-terminal, on a real data cut, read through a terminal emulator."""

import os
import re
import signal
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from terminal import Terminal

from tests.cuts import make_cut, random_joints

# The program as it is, but the risk of men's joints is counted over and over until the database is interrupted,
# so that there is a question to quit in the middle of.
PROGRAM = """
import sys
from pathlib import Path
from regdash import dashboard
from regdash.reports import desk

quick = desk.Desk.risk

def risk(self, cohort, *more, **named):
    if "sex=male" in str(cohort):
        with self._asking() as cut:
            cut.rows("select sum((a.range * b.range) % 7) from range(10000000) a, range(10000000) b")
    return quick(self, cohort, *more, **named)

desk.Desk.risk = risk
dashboard.run(Path(sys.argv[1]), None, tuple(sys.argv[2:]))
"""


class Recorded:
    """A stream of bytes to an emulator that keeps what went through it."""

    def __init__(self, stream: Any) -> None:
        self._stream = stream
        self.raw = b""

    def feed(self, data: bytes) -> None:
        self.raw += data
        self._stream.feed(data)


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return make_cut(tmp_path_factory.mktemp("store"), random_joints(3000))


@pytest.fixture
def terminal(store: Path) -> Iterator[Terminal]:
    terminal = started(store)
    yield terminal
    end(terminal)


def started(store: Path, columns: int = 80, rows: int = 24, kind: str = "xterm-256color", **environ: str) -> Terminal:
    terminal = Terminal([sys.executable, "-c", PROGRAM, str(store)], columns, rows, os.environ | environ, kind)
    terminal._stream = Recorded(terminal._stream)
    return terminal


def end(terminal: Terminal) -> None:
    if terminal._process.poll() is None:
        terminal._process.kill()
        terminal._process.wait()


def test_start_filter_drill_to_one_joint_and_quit_with_a_question_running(terminal: Terminal) -> None:
    terminal.painted(lambda screen: "a total" in screen and "joints at risk" in screen)
    terminal.press("/class=par\t\r")
    terminal.painted(lambda screen: "filter  class=partial" in screen and "a partial" in screen)
    terminal.press("\r")
    terminal.painted(lambda screen: "› partial" in screen and "revised for each reason" in screen)
    terminal.press("\r")
    terminal.painted(lambda screen: "▸P" in screen)
    terminal.press("\r")
    terminal.painted(lambda screen: "● 20" in screen and "primary partial knee" in screen)
    terminal.press("\x7f\x7f\x7f")
    terminal.painted(lambda screen: "2 RISK" in screen and "a partial" in screen)
    terminal.press("/sex=male\r")
    terminal.painted(lambda screen: "counting…" in screen)
    assert terminal.close("qq") == 0
    raw = terminal._stream.raw.decode(errors="replace")
    assert "Traceback" not in raw
    assert raw.rfind("\x1b[?1049l") > raw.rfind("\x1b[?1049h") >= 0, "the alternate screen is left"
    assert raw.rfind("\x1b[?25h") > raw.rfind("\x1b[?25l") >= 0, "the cursor is shown again"


def test_a_dropped_connection_ends_the_program_and_the_next_start_goes_on_there(store: Path, tmp_path: Path) -> None:
    bare = {"LANG": "C", "LC_CTYPE": "", "LC_ALL": "", "NO_COLOR": "1", "XDG_STATE_HOME": str(tmp_path)}
    first = started(store, 120, 40, "screen", **bare)
    try:
        first.painted(lambda screen: "a total" in screen and "joints at risk" in screen)
        first.press("/class=partial\r3")  # in one go, as keys come over a slow line
        first.painted(lambda screen: "3 REASONS" in screen and "partial: revised for each reason" in screen)
        first.resize(80, 24)
        first.painted(lambda screen: "? all keys" in screen.splitlines()[-1] and "share %" in screen)
        before, written = first.lines, first.bytes_written
        first.press("\x0c")  # ctrl+l
        first.painted(lambda screen: first.bytes_written > written + 80 * 24)
        assert first.lines == before, "what was painted by what changed is what is painted anew"
        assert first.hang_up() == 128 + signal.SIGHUP
    finally:
        end(first)
    raw = first._stream.raw.decode()
    assert "Traceback" not in raw
    assert raw.isascii()
    assert not re.search(r"\x1b\[[0-9;]*\b[34][0-8]\b[0-9;]*m", raw), "no colour"
    second = started(store, kind="xterm", XDG_STATE_HOME=str(tmp_path))
    try:
        second.painted(lambda screen: "Enter goes back there" in screen)
        second.press("\r")
        second.painted(lambda screen: "3 REASONS" in screen and "filter  class=partial" in screen)
        assert second.close("qq") == 0
    finally:
        end(second)
