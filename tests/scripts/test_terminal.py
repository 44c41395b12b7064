"""The pseudo-terminal shows what a person would see, and times it from the key."""

import sys

import pytest
from terminal import Terminal

# Asks for nothing, paints by cursor movement, answers each line after a while, ends on "q".
PROGRAM = r"""
import sys, time
sys.stdout.write("\x1b[>1u\x1b[2J\x1b[3;5Hready"); sys.stdout.flush()
for line in sys.stdin:
    if line.strip() == "q":
        raise SystemExit(7)
    time.sleep(0.2)
    sys.stdout.write("\x1b[2J\x1b[1;1Hanswer " + line.strip().upper()); sys.stdout.flush()
"""


@pytest.fixture
def terminal():
    terminal = Terminal([sys.executable, "-c", PROGRAM], columns=40, rows=10)
    yield terminal
    terminal.close("q\n")


def test_what_a_program_paints_stands_where_it_put_it(terminal):
    terminal.painted(lambda screen: "ready" in screen)
    assert terminal.lines[2].rstrip() == "    ready"
    assert len(terminal.lines) == 10
    assert {len(line) for line in terminal.lines} == {40}


def test_an_answer_is_timed_from_the_key_to_its_last_change(terminal):
    terminal.painted(lambda screen: "ready" in screen)
    pressed = terminal.press("risk\n")
    assert 0.2 <= terminal.painted(lambda screen: "answer RISK" in screen) - pressed < 5


def test_what_never_shows_is_told_with_what_does(terminal):
    with pytest.raises(TimeoutError, match="ready"):
        terminal.painted(lambda screen: "never" in screen, timeout=0.5)


def test_the_programs_own_exit_code_comes_back():
    terminal = Terminal([sys.executable, "-c", PROGRAM])
    terminal.painted(lambda screen: "ready" in screen)
    assert terminal.close("q\n") == 7
