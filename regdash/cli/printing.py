"""Answers go to standard output and nothing else does; everything said beside them goes to standard error."""

import shutil
import sys
import time
from typing import Any, Literal, TextIO

import click

from regdash.cli.ending import READER_LEFT, abandon_output

ASCII_ONLY = "regdash.ascii_only"  # in a context's meta: what an option says of signs beyond ASCII
Form = Literal["text", "json", "csv"]


def show(report: Any, form: Form) -> None:
    """Print an answer on standard output, in one piece."""
    if form == "text":
        from regdash.output.people import as_text

        emit(as_text(report, page_width()))
    else:
        from regdash.output.machine import as_csv, as_json

        emit(as_json(report) if form == "json" else as_csv(report), "utf-8")


def emit(text: str, encoding: str | None = None) -> None:
    """
    Write to standard output, in the terminal's encoding if none is given: what that cannot write is stood in for.

    A reader who has left (a closed pipe) ends the program quietly.
    """
    if encoding is None:
        text = as_shown(text, sys.stdout)
    left = memoryview(text.encode(encoding or sys.stdout.encoding, "replace"))
    try:
        while left:  # an unbuffered stream may take less than it was given, and says how much
            left = left[sys.stdout.buffer.write(left) :]
        sys.stdout.flush()
    except BrokenPipeError:
        abandon_output()
        raise SystemExit(READER_LEFT) from None


def as_shown(text: str, stream: TextIO) -> str:
    """Write text with the signs that the reader of a stream has."""
    if text.isascii():
        return text
    from regdash.charts.ascii_signs import STAND_IN, in_ascii
    from regdash.dashboard.terminal import look_of

    context = click.get_current_context(silent=True)
    wanted = context.meta.get(ASCII_ONLY) if context else None
    if wanted is None:
        wanted = stream.isatty() and look_of().ascii_only
    if wanted:
        return "\n".join(map(in_ascii, text.split("\n")))
    encoding = stream.encoding or "utf-8"
    return text.encode(encoding, STAND_IN).decode(encoding)


def page_width() -> int:
    """Columns of a page: the terminal's, or 79 where the answer does not go to one."""
    from regdash.output.people import WIDTH

    return max(shutil.get_terminal_size((WIDTH + 1, 24)).columns - 1, 39) if sys.stdout.isatty() else WIDTH


def say(text: str) -> None:
    """Tell something that is no part of the answer."""
    click.echo(as_shown(text, sys.stderr), err=True)


class Steps:
    """
    Progress of a long piece of work on standard error: on a terminal a line that renews itself,
    elsewhere a line when a step begins and some while it lasts.
    """

    def __init__(self) -> None:
        self._live = sys.stderr.isatty()
        self._pause = 0.1 if self._live else 5.0  # seconds between two lines of one step
        self._step = ""
        self._said = 0.0

    def __call__(self, what: str, done: int, total: int) -> None:
        """Tell what is being done, how much of it is done and how much there is."""
        self._tell(what, f"{done:,} of {total:,}")

    def share(self, what: str, done: float) -> None:
        """Tell what is being done, and which share of all the work is behind it."""
        if done < 1:
            self._tell(what, f"{done:.0%}")

    def _tell(self, what: str, how_far: str) -> None:
        now, begins = time.monotonic(), what != self._step
        if not begins and now - self._said < self._pause:
            return
        self._step, self._said = what, now
        if self._live:
            _renew(f"{what} {how_far}")
        else:
            say(f"{what} …" if begins else f"{what} {how_far}")

    def close(self) -> None:
        """Clear the line that renews itself."""
        if self._live and self._step:
            _renew("")
        self._step = ""

    def __enter__(self) -> "Steps":
        return self

    def __exit__(self, *fault: object) -> None:
        self.close()


def _renew(line: str) -> None:
    """Write over the terminal's current line."""
    line = as_shown(line, sys.stderr)
    click.echo(f"\r\x1b[2K{line[: shutil.get_terminal_size().columns - 1]}", err=True, nl=False)
