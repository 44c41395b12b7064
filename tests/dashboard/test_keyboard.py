"""
An Escape by itself is a key soon after it was pressed, and the first byte of another key where the rest follows.

How the keys beyond letters are written is common to terminals: ECMA-48 (1991), 5.4, control sequences begin with ESC [.
"""

import os
import threading
import time
from collections.abc import Iterator
from queue import Queue

import pytest
from textual import constants
from textual.events import Key

from regdash.dashboard.keyboard import LOOK_UP, Keyboard


class Typist:
    """A keyboard at one end of a pipe, and what it said was pressed."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch, escape_delay: float) -> None:
        monkeypatch.setattr(constants, "ESCAPE_DELAY", escape_delay)
        reads, self.types = os.pipe()
        self.pressed: Queue[str] = Queue()
        self.keyboard = Keyboard.__new__(Keyboard)  # its other half takes over a terminal
        self.keyboard.fileno, self.keyboard.exit_event = reads, threading.Event()
        monkeypatch.setattr(self.keyboard, "process_message", self._told)
        self.thread = threading.Thread(target=self.keyboard.run_input_thread, daemon=True)
        self.thread.start()

    def _told(self, message: object) -> None:
        if isinstance(message, Key):
            self.pressed.put(message.key)

    def press(self, *parts: str) -> tuple[str, float]:
        """Type parts of a key with a moment between them; the next key that is said, and after how many seconds."""
        began = time.monotonic()
        for part in parts:
            os.write(self.types, part.encode())
            time.sleep(0.001)
        return self.pressed.get(timeout=10), time.monotonic() - began


@pytest.fixture
def typist(monkeypatch: pytest.MonkeyPatch, request: pytest.FixtureRequest) -> Iterator[Typist]:
    typist = Typist(monkeypatch, getattr(request, "param", 0.02))
    yield typist
    typist.keyboard.exit_event.set()
    typist.thread.join(10)
    assert not typist.thread.is_alive()
    os.close(typist.types)
    os.close(typist.keyboard.fileno)


def test_an_escape_alone_is_told_before_the_reader_looks_up_by_itself(typist):
    told = [typist.press("\x1b") for _ in range(5)]
    assert {key for key, _ in told} == {"escape"}
    assert min(seconds for _, seconds in told) < LOOK_UP * 0.8, "of several tries, for a machine with other work"


@pytest.mark.parametrize("typist", [5.0], indirect=True)  # seconds that even a machine with much other work has over
def test_a_key_that_comes_in_parts_is_one_key(typist):
    assert typist.press("\x1b", "[", "A")[0] == "up"
    assert typist.press("\x1b[5", "~")[0] == "pageup"
