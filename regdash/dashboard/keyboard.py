"""
Keys as they come from the terminal. Most keys beyond letters begin with an Escape, so one alone is a key of its own
only when nothing has followed it for a moment.
"""

import os
from codecs import getincrementaldecoder
from itertools import chain
from selectors import EVENT_READ, SelectSelector

from textual import constants
from textual._xterm_parser import XTermParser
from textual.drivers.linux_driver import LinuxDriver

LOOK_UP = 0.1  # seconds after which a reader that waits sees that the program is ending
MOST_READ = 4096  # bytes at a time


class Keyboard(LinuxDriver):
    """The terminal's driver with a reader that looks again as soon as the moment is over, and not 0.1 s later."""

    def run_input_thread(self) -> None:
        """Read keys until the program ends."""
        parser, decode = XTermParser(), getincrementaldecoder("utf-8")("replace").decode
        patience = LOOK_UP
        with SelectSelector() as terminal:
            terminal.register(self.fileno, EVENT_READ)
            while not self.exit_event.is_set():
                read = os.read(self.fileno, MOST_READ) if terminal.select(patience) else b""
                text = decode(read)
                for message in chain(parser.feed(text) if text else (), parser.tick()):
                    self.process_message(message)
                patience = min(constants.ESCAPE_DELAY, LOOK_UP) if read else LOOK_UP
