"""How long the dashboard takes from a key to a painted screen, in a real pseudo-terminal."""

from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from terminal import Terminal

FILTERS = (
    *(f"joint=knee class=partial age={age}..{age + 9}" for age in range(50, 90, 10)),
    *(f"joint=knee sex=female implanted={year}.." for year in range(2008, 2020)),
    *("joint=knee bearing=mobile", "joint=knee fixation=cementless", "joint=knee technology=robot-assisted"),
    *("joint=knee sex=male", "joint=knee asa=III", "joint=knee age=..54", "joint=knee class=total bearing=fixed"),
    *("joint=knee class=partial bearing=mobile", "joint=knee diagnosis=osteoarthritis", "joint=knee"),
)
EMPTY_LINE = "\x15"  # ctrl+u
TYPING = "Enter done"  # shown while a filter is typed
TYPED_ON = 2  # the line of the screen it is typed on
COUNTS_ON = 2  # the line of the screen that says what an answer rests on
COUNTING = "counting…"  # shown while an answer is on its way
# A walk through what is pressed most, from the place of risks and back to it.
WALK = (
    *(("down", "\x1b[B"), ("up", "\x1b[A"), ("cursor of the chart", "["), ("cursor of the chart", "]")),
    *(
        ("view", "v"),
        ("view", "v"),
        ("open the filter", "/"),
        ("type", "a"),
        ("type", "s"),
        ("leave the filter", "\x1b"),
    ),
    *(("explain", "x"), ("leave the text", "\x1b"), ("place 3", "3"), ("down", "\x1b[B"), ("down", "\x1b[B")),
    *(("open a row", "\r"), ("down", "\x1b[B"), ("page down", "\x1b[6~"), ("back", "\x7f"), ("place 2", "2")),
)
# Each walk has a filter of its own, taken before it, so that no answer has been given before.
WALKS = tuple(FILTERS[place] for place in (12, 0, 4, 16, 8, 20))  # the first is not counted
PLACES = (("register", "1"), ("reasons", "3"), ("compare", "4"), ("implants", "5"), ("units", "6"), ("quality", "7"))
# Seconds without output after which nothing follows a key any more, not even what stands beside an answer.
AT_REST = 0.2
SLOWEST_PLACE = 120.0  # seconds until a place has all its answers, at most
NO_ANSWER = 1.0  # seconds after which a key has changed nothing


@dataclass(frozen=True)
class Press:
    """A key that was pressed: seconds until the screen was painted, and the bytes that were written for it."""

    key: str
    seconds: float | None  # None: it changed nothing
    size: int


@dataclass(frozen=True)
class Dashboard:
    """How a dashboard is started: its command, the size of its terminal, its environment."""

    command: list[str]
    size: tuple[int, int]
    environ: Mapping[str, str]

    def starts(self, times: int) -> list[float]:
        """Seconds from the start of the process to the painted chart, after one start that is not counted."""
        took = []
        for _ in range(times + 1):
            with self._open() as (_, seconds):
                took.append(seconds)
        return took[1:]

    def filter_changes(self, store: Path) -> list[float]:
        """Seconds from Enter on a new filter to the painted answer."""
        counts = _joints(store)
        with self._open() as (terminal, _):
            return [_change(terminal, text, f"{joints:,} joints") for text, joints in counts.items()]

    def presses(self) -> tuple[list[Press], float]:
        """Walk about by keys, after one walk that is not counted; the presses, and the program's peak memory in GB."""
        with self._open() as (terminal, _):
            walks = [_walk(terminal, text) for text in WALKS]
            return [press for walk in walks[1:] for press in walk], terminal.peak_memory

    def first_answers(self) -> list[Press]:
        """Go to each place for the first time, and wait until it has all its answers."""
        with self._open() as (terminal, _):
            return [_press(terminal, name, key, partial(_is_answered, name), SLOWEST_PLACE) for name, key in PLACES]

    @contextmanager
    def _open(self) -> Iterator[tuple[Terminal, float]]:
        terminal = Terminal(self.command, *self.size, environ=self.environ)
        try:
            yield (
                terminal,
                terminal.painted(lambda screen: "at risk" in screen and " joints" in screen) - terminal.started,
            )
        finally:
            terminal.close("qq")


def _joints(store: Path) -> dict[str, int]:
    """How many joints each filter keeps, by which a screen shows that it has been answered."""
    from regdash import cohort
    from regdash.reports.desk import Desk

    desk = Desk(store)
    counts = {text: desk.risk(cohort.parse(text, known=desk.known)).head.joints or 0 for text in FILTERS}
    desk.close()
    return counts


def _change(terminal: Terminal, text: str, answered: str) -> float:
    """Type a filter and take it; the time counts from Enter on."""
    terminal.press("/")
    terminal.painted(lambda screen: TYPING in screen)
    _type(terminal, EMPTY_LINE, "")
    _type(terminal, text, text)
    entered = terminal.press("\r")
    return terminal.painted(lambda screen: answered in screen and TYPING not in screen) - entered


def _type(terminal: Terminal, keys: str, line: str) -> None:
    terminal.press(keys)
    terminal.painted(lambda screen: screen.splitlines()[TYPED_ON].strip() == line)


def _walk(terminal: Terminal, text: str) -> list[Press]:
    for keys in ("/", EMPTY_LINE, text, "\r"):
        terminal.press(keys)
        terminal.painted(_answered, quiet=AT_REST)
    return [_press(terminal, *key) for key in WALK]


def _answered(screen: str) -> bool:
    return COUNTING not in screen


def _is_answered(place: str, screen: str) -> bool:
    """Whether a place is in front and says what its answer rests on; one just opened says nothing yet."""
    lines = screen.splitlines()
    return _answered(screen) and place.upper() in lines[0] and bool(lines[COUNTS_ON].strip())


def _press(
    terminal: Terminal, name: str, keys: str, done: Callable[[str], bool] = _answered, patience: float = 30.0
) -> Press:
    before = terminal.bytes_written
    pressed = terminal.press(keys)
    terminal.wait_for_bytes(before, NO_ANSWER)
    painted = terminal.painted(done, patience, AT_REST)
    size = terminal.bytes_written - before
    return Press(name, painted - pressed if size else None, size)
