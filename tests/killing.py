"""Killing a process of the program at a moment drawn by a seed, as a power cut would."""

import random
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

ROOT = Path(__file__).parents[1]
PAUSE = 0.0005  # seconds between two looks at what the process has written


def run_to_the_end(program: str, *words: object) -> float:
    """Run a program undisturbed; give the seconds from its line `begun` to its end."""
    child = _begin(program, *words)
    begun = time.monotonic()
    assert child.wait() == 0
    _close(child)
    return time.monotonic() - begun


def kill_at_some_moment(rng: random.Random, seconds: float, program: str, *words: object) -> bool:
    """Kill a program within a time drawn from that of an undisturbed run; tell whether it was still at work."""
    child = _begin(program, *words)
    time.sleep(rng.uniform(0, seconds))
    return _kill(child)


def kill_once(is_so: Callable[[], bool], seconds: float, program: str, *words: object) -> bool:
    """Kill a program a moment after something is seen in the files; tell whether it was still at work."""
    child = _begin(program, *words)
    while child.poll() is None and not is_so():
        time.sleep(PAUSE)
    time.sleep(seconds)
    return _kill(child)


def _begin(program: str, *words: object) -> "subprocess.Popen[str]":
    command = [sys.executable, "-c", program, *map(str, words)]
    child = subprocess.Popen(command, stdout=subprocess.PIPE, text=True, cwd=ROOT)
    assert child.stdout is not None
    assert child.stdout.readline() == "begun\n"
    return child


def _kill(child: "subprocess.Popen[str]") -> bool:
    child.send_signal(signal.SIGKILL)
    ended = child.wait()
    assert ended in (0, -signal.SIGKILL)
    _close(child)
    return ended != 0


def _close(child: "subprocess.Popen[str]") -> None:
    assert child.stdout is not None
    child.stdout.close()
