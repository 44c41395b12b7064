"""Once in a real pseudo-terminal, on a real data cut, read through a terminal emulator."""

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
    terminal = Terminal([sys.executable, "-c", PROGRAM, str(store)], 80, 24)
    terminal._stream = Recorded(terminal._stream)
    yield terminal
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
