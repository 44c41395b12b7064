"""How long the dashboard takes from a key to a painted screen, in a real pseudo-terminal."""

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
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
