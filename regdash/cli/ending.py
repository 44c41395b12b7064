"""How the program ends: 0 done, 1 refused with one line, 2 wrong usage, 130 interrupted. A bug keeps its traceback."""

import errno
import os
import select
import signal
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from types import FrameType
from typing import Any

import click

from regdash.errors import RegdashError

DONE, REFUSED, WRONG_USAGE, INTERRUPTED, READER_LEFT = 0, 1, 2, 130, 141

# Faults of the machine that a person can mend; any other operating-system error is a bug.
_FULL = {errno.ENOSPC, errno.EDQUOT, errno.EFBIG}
_FORBIDDEN = {errno.EACCES, errno.EPERM, errno.EROFS}

_AGAIN_SECONDS = 0.05
_interrupted = False


def exit_code(work: Callable[[], Any]) -> int:
    """Do a piece of work and say how the program ends."""
    _watch_for_interrupt()
    try:
        code = work()
    except (KeyboardInterrupt, click.Abort):
        code = INTERRUPTED
    except Exception as fault:
        # A question that was interrupted ends in an error of its own.
        code = INTERRUPTED if _interrupted else _refused(fault)
        if code is None:
            raise
    return code if isinstance(code, int) else DONE


def _watch_for_interrupt() -> None:
    """Remember Ctrl-C. Where it is ignored (a background job), it stays ignored."""
    if (
        threading.current_thread() is threading.main_thread()
        and signal.getsignal(signal.SIGINT) is signal.default_int_handler
    ):
        signal.signal(signal.SIGINT, _interrupt)


def _interrupt(number: int, frame: FrameType | None) -> None:
    global _interrupted
    _interrupted = True
    signal.signal(number, signal.SIG_IGN)  # a second Ctrl-C would break into the cleaning up, which then never ends
    raise KeyboardInterrupt


@contextmanager
def interruptible(cancel: Callable[[], None]) -> Iterator[None]:
    """
    Let Ctrl-C end a question, by calling `cancel` from another thread until the question has ended.

    The main thread may be deep in the database and hear of no signal before it comes back; the system
    writes each signal's number into a pipe (`signal.set_wakeup_fd`), and a thread listens there.
    """
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    ear, mouth = os.pipe()
    os.set_blocking(mouth, False)
    before = signal.set_wakeup_fd(mouth, warn_on_full_buffer=False)
    listener = threading.Thread(target=_listen, args=(ear, cancel), daemon=True)
    listener.start()
    try:
        yield
    finally:
        signal.set_wakeup_fd(before)
        os.close(mouth)
        listener.join()
        os.close(ear)


def _listen(ear: int, cancel: Callable[[], None]) -> None:
    heard = False
    while True:
        ready, _, _ = select.select([ear], [], [], _AGAIN_SECONDS if heard else None)
        if ready:
            number = os.read(ear, 1)
            if not number:  # the question has ended
                return
            heard = heard or number[0] == signal.SIGINT
        if heard:
            cancel()


def _refused(fault: Exception) -> int | None:
    """Say a refusal in one line; None where the fault is a bug."""
    if isinstance(fault, RegdashError):
        return _say(str(fault), REFUSED)
    if isinstance(fault, click.UsageError):
        return _wrong_usage(fault)
    if isinstance(fault, click.ClickException):
        return _say(fault.format_message(), REFUSED)
    if isinstance(fault, OSError) and fault.errno in _FULL | _FORBIDDEN:
        where = f"{fault.filename}: " if fault.filename else ""
        abandon_output()
        return _say(f"{where}{fault.strerror}.", REFUSED)
    return None


def _wrong_usage(fault: click.UsageError) -> int:
    if isinstance(fault, click.exceptions.NoArgsIsHelpError):
        fault.show()
        return WRONG_USAGE
    command = fault.ctx.command_path if fault.ctx else "regdash"
    message = fault.format_message().rstrip()
    stop = "" if message.endswith((".", "?", "!", ")")) else "."
    return _say(f"{message}{stop} See: {command} --help", WRONG_USAGE)


def _say(message: str, code: int) -> int:
    from regdash.cli.printing import as_shown

    click.echo(as_shown(" ".join(message.split()), sys.stderr), err=True)
    return code


def fill_missing_streams() -> None:
    """Give a program that was started without standard output or error a place to write to."""
    sys.stdout = sys.stdout or open(os.devnull, "w")  # noqa: SIM115 - for as long as the program runs
    sys.stderr = sys.stderr or open(os.devnull, "w")  # noqa: SIM115


def abandon_output() -> None:
    """Give up on standard output, so that what is still to be written does not fail once more at the very end."""
    try:
        sys.stdout.flush()
    except OSError:
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, sys.stdout.fileno())
        os.close(nowhere)
