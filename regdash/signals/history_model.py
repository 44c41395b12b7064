"""What comes back from a screen that is replayed. A figure that is withheld is None, and `withheld` says why."""

from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from regdash.grouping import Grouping
from regdash.reports.model import Head
from regdash.signals.model import FIRST_SEEN, NOT_SEEN, SEEN_AGAIN

if TYPE_CHECKING:
    from regdash.signals.settings import ScreenSettings

# Of one unit in one quarter: no joint had it; too few joints or expected revisions; tested, no signal; a signal.
NOT_USED, NOT_TESTED, NO_SIGNAL, SIGNAL = STATES = " -.#"
NEVER_SEEN = "never seen"


@dataclass(frozen=True)
class HistoryRow:
    """One unit, quarter after quarter."""

    code: str
    role: str
    joint_class: str
    first_used: date | None  # first primary with it, among these joints
    states: str  # one character of STATES a quarter, as `HistoryReport.quarters`
    first_seen: str | None  # quarter of the first signal
    window: str | None  # years since implantation in which it was most striking then
    years_to_first_seen: float | None  # from the first primary to the end of that quarter
    joints: int | None  # known then
    revisions: int | None  # known then, in that window
    withheld: str | None = None

    @property
    def quarters_seen(self) -> int:
        """In how many quarters it was a signal."""
        return self.states.count(SIGNAL)

    @property
    def quarters_since(self) -> int:
        """Quarters since the first signal, itself left out."""
        first = self.states.find(SIGNAL)
        return 0 if first < 0 else len(self.states) - first - 1

    @property
    def now(self) -> str:
        """Whether the last quarter sees it for the first time, again, not any more, or it was never seen."""
        first = self.states.find(SIGNAL)
        if first < 0:
            return NEVER_SEEN
        if self.states[-1] != SIGNAL:
            return NOT_SEEN
        return FIRST_SEEN if first == len(self.states) - 1 else SEEN_AGAIN


@dataclass(frozen=True)
class HistoryReport:
    """Answer to `history`: every unit that was ever tested, those that were a signal first, in the order of time."""

    head: Head
    kind: str  # one of KINDS
    settings: "ScreenSettings"
    adjust: tuple[Grouping, ...]
    windows: tuple[float, ...]
    method_version: int
    quarters: tuple[str, ...]  # as in 2024Q3
    tests: tuple[int, ...]  # in each quarter
    signals: tuple[int, ...]  # units that were a signal in each quarter
    rows: tuple[HistoryRow, ...]
    never_tested: int  # units
    remembered: bool  # it was made before, and read

    def of(self, code: str, role: str | None = None, joint_class: str | None = None) -> tuple[HistoryRow, ...]:
        """The rows of one code, in every role and class or in one."""
        return tuple(
            row
            for row in self.rows
            if row.code == code and role in (None, row.role) and joint_class in (None, row.joint_class)
        )
