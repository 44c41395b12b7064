"""A program in a real pseudo-terminal, its screen read through a terminal emulator."""

import fcntl
import os
import pty
import re
import select
import struct
import subprocess
import termios
import time
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any

import pyte

QUIET = 0.04  # seconds without output after which a screen counts as painted
EXIT_TIMEOUT = 20.0
_UNKNOWN_TO_EMULATOR = re.compile(rb"\x1b\[[<=>][0-9;]*[A-Za-z]")  # it would print their last letter


class _Screen(pyte.Screen):
    """A screen that lets pass the private sequences that the emulator does not know."""

    def report_device_status(self, mode: int, **private: Any) -> None:
        """Answer the plain form only."""

    def select_graphic_rendition(self, *attributes: int, private: bool = False) -> None:
        """Take colours and weights; a private form asks for something else."""
        if not private:
            super().select_graphic_rendition(*attributes)


class Terminal:
    """
    A program started in a pseudo-terminal of its own.

    Args:
        command: the program and its arguments.
        environ: its environment; TERM is set, and COLUMNS and LINES, which would stand above its size, are left out.
        kind: TERM.
    """

    def __init__(
        self,
        command: Sequence[str],
        columns: int = 80,
        rows: int = 24,
        environ: Mapping[str, str] = os.environ,
        kind: str = "xterm-256color",
    ) -> None:
        self._screen = _Screen(columns, rows)
        self._stream = pyte.ByteStream(self._screen)
        self._unshown = bytearray()  # taken from the program, not yet on the screen: emulating is slower than reading
        self.bytes_written = 0  # by the program
        self._ours, theirs = pty.openpty()
        fcntl.ioctl(theirs, termios.TIOCSWINSZ, struct.pack("HHHH", rows, columns, 0, 0))
        self.started = time.monotonic()
        self._process = subprocess.Popen(
            command,
            stdin=theirs,
            stdout=theirs,
            stderr=theirs,
            env={name: value for name, value in environ.items() if name not in ("COLUMNS", "LINES")} | {"TERM": kind},
            start_new_session=True,
            preexec_fn=_take_terminal,
        )
        os.close(theirs)

    @property
    def lines(self) -> list[str]:
        """What the screen shows, line by line."""
        self._show()
        return list(self._screen.display)

    @property
    def peak_memory(self) -> float:
        """The most memory that the program has held so far, in GB; 0 where the system does not say (Linux does)."""
        try:
            said = Path(f"/proc/{self._process.pid}/status").read_text(encoding="ascii")
        except OSError:
            return 0.0
        return int(re.findall(r"VmHWM:\s+(\d+) kB", said)[0]) * 1024 / 1e9

    def press(self, keys: str) -> float:
        """Send keys as they would be typed; the moment at which they were."""
        os.write(self._ours, keys.encode())
        return time.monotonic()

    def wait_for_bytes(self, before: int, timeout: float) -> None:
        """Wait until the program has written more than it had before, or a time has passed."""
        gives_up = time.monotonic() + timeout
        while self.bytes_written <= before and time.monotonic() < gives_up:
            self._read()

    def painted(self, shows: Callable[[str], bool], timeout: float = 30.0, quiet: float = QUIET) -> float:
        """
        Wait until the screen shows something and has come to rest; the moment of its last change.

        Args:
            quiet: seconds without output after which it has.

        Raises:
            TimeoutError: with what the screen shows instead.
        """
        last = time.monotonic()
        while (now := time.monotonic()) < last + timeout:
            if self._read():
                last = time.monotonic()
            elif now - last >= quiet and shows("\n".join(self.lines)):
                return last
        raise TimeoutError("The screen never showed what was waited for:\n" + "\n".join(self.lines))

    def resize(self, columns: int, rows: int) -> None:
        """Give the terminal another size."""
        self._show()
        self._screen.resize(rows, columns)
        fcntl.ioctl(self._ours, termios.TIOCSWINSZ, struct.pack("HHHH", rows, columns, 0, 0))

    def hang_up(self) -> int:
        """Drop the connection, and wait for the program's exit code; one that stays on is killed."""
        os.close(self._ours)
        try:
            return self._process.wait(EXIT_TIMEOUT)
        except subprocess.TimeoutExpired:
            self._process.kill()
            return self._process.wait()

    def close(self, keys: str) -> int:
        """Send keys that should end the program, and wait for its exit code; one that stays on is killed."""
        self.press(keys)
        gives_up = time.monotonic() + EXIT_TIMEOUT
        while self._process.poll() is None and time.monotonic() < gives_up:
            self._read()
        if self._process.poll() is None:
            self._process.kill()
        code = self._process.wait()
        self._show()
        os.close(self._ours)
        return code

    def _show(self) -> None:
        """Bring what was taken from the program to the screen."""
        self._stream.feed(_UNKNOWN_TO_EMULATOR.sub(b"", bytes(self._unshown)))
        self._unshown.clear()

    def _read(self) -> bool:
        """Take what the program wrote, if it wrote anything within a moment."""
        if not select.select([self._ours], [], [], 0.005)[0]:
            return False
        try:
            taken = os.read(self._ours, 65536)
        except OSError:  # the program has ended
            return False
        self._unshown += taken
        self.bytes_written += len(taken)
        return True


def _take_terminal() -> None:
    """Make standard input the terminal of the new session, so that it is told of sizes and of the end."""
    fcntl.ioctl(0, termios.TIOCSCTTY, 0)
