"""The question that every place answers: which joints, grouped how, up to when, in which view; and its history."""

import shlex
from dataclasses import dataclass, field, replace

from regdash import grouping
from regdash.cohort import Cohort
from regdash.endpoints import ANY_REVISION
from regdash.grouping import Grouping
from regdash.reports.model import IMPLANT_VIEW, PATIENT_VIEW

HORIZONS = (1.0, 2.0, 3.0, 5.0, 10.0, 15.0, 20.0)
LONGEST_HORIZON = 60.0
WINDOWS = (1.0, 5.0)  # years at which hazard ratios are split, chosen before anybody saw a curve


@dataclass(frozen=True)
class Asked:
    """What is asked at present."""

    cohort: Cohort = field(default_factory=Cohort)
    by: tuple[Grouping, ...] = field(default_factory=lambda: grouping.parse("class"))
    years: float = 15.0
    view: str = IMPLANT_VIEW
    adjust: tuple[Grouping, ...] = field(default_factory=lambda: grouping.parse("age,sex"))
    endpoint: str = ANY_REVISION.key
    beside: Cohort | None = None  # a second cohort; the two are then the groups, in the places that show two

    @property
    def by_text(self) -> str:
        """The grouping as it is typed; "all" where nothing groups."""
        return ",".join(map(str, self.by)) or "all"

    @property
    def groups(self) -> tuple[Grouping, ...]:
        """How joints are grouped; two cohorts side by side are groups themselves."""
        return () if self.beside is not None else self.by

    @property
    def groups_said(self) -> str:
        """The groups as a line says them before the rest; two cohorts are said with the filter."""
        return f"by {self.by_text} · " if self.beside is None else ""

    @property
    def beside_said(self) -> str:
        """
        What tells the second cohort from the filter's.

        >>> from regdash.cohort import parse
        >>> Asked(parse("joint=knee class=partial"), beside=parse("joint=knee class=total")).beside_said
        'beside it class=total for class=partial'
        """
        if self.beside is None:
            return ""
        own = " ".join(word for word in self.beside.words if word not in self.cohort.words)
        lacks = " ".join(word for word in self.cohort.words if word not in self.beside.words)
        if not lacks:
            return f"beside it with {own}"
        return f"beside it {own} for {lacks}" if own else f"beside it without {lacks}"

    @property
    def groups_option(self) -> str:
        """The groups as the command line takes them."""
        if self.beside is not None:
            return f" --beside {shlex.quote(str(self.beside))}"
        return f" --by {self.by_text}" if self.by else ""

    @property
    def alone(self) -> "Asked":
        """The same question of the first of two cohorts."""
        return self if self.beside is None else replace(self, beside=None)

    @property
    def second(self) -> "Asked":
        """The same question of the second of two cohorts."""
        return self if self.beside is None else replace(self, cohort=self.beside, beside=None)

    @property
    def adjust_text(self) -> str:
        """What is adjusted for as it is typed; "none" where nothing is."""
        return ",".join(map(str, self.adjust)) or "none"

    @property
    def is_any_revision(self) -> bool:
        """Whether the event is any revision, which goes without saying."""
        return self.endpoint == ANY_REVISION.key

    @property
    def endpoint_mark(self) -> str:
        """The endpoint as a line says it after the rest of the question."""
        return "" if self.is_any_revision else f" · {self.endpoint}"

    @property
    def endpoint_option(self) -> str:
        """The endpoint as the command line takes it."""
        return "" if self.is_any_revision else f" --endpoint {self.endpoint}"

    @property
    def other_view(self) -> "Asked":
        """The same question in the other view."""
        return replace(self, view=PATIENT_VIEW if self.view == IMPLANT_VIEW else IMPLANT_VIEW)

    def looking_at(self, joint: str | None) -> "Asked":
        """The same question of one joint, where no filter says which joints are meant."""
        return self if joint is None or self.cohort.conditions else self.within((f"joint={joint}",))

    def within(self, words: tuple[str, ...]) -> "Asked":
        """The same question of those joints alone that also meet these words."""
        return replace(self, cohort=self.cohort.narrowed(*words))


def reading_years(horizon: float) -> tuple[float, ...]:
    """
    The times at which a curve may be read, the horizon last.

    >>> reading_years(3.0)
    (0.5, 1.0, 1.5, 2.0, 2.5, 3.0)
    """
    step = 0.25 if horizon <= 2 else 0.5 if horizon <= 5 else 1.0
    count = int(horizon / step + 1e-9)
    times = [n * step for n in range(1, count + 1)]
    return tuple(times if times and abs(times[-1] - horizon) < 1e-9 else [*times, horizon])


class History:
    """The questions asked so far, to step back and forth in."""

    def __init__(self, first: Asked) -> None:
        self.now = first
        self._before: list[Asked] = []
        self._after: list[Asked] = []

    def change(self, asked: Asked) -> bool:
        """Ask something else; False if it is the same question."""
        if asked == self.now:
            return False
        self._before.append(self.now)
        self._after.clear()
        self.now = asked
        return True

    def undo(self) -> bool:
        """Go back to the question before; False if there is none."""
        return self._step(self._before, self._after)

    def redo(self) -> bool:
        """Go forth to the question that was left by undo; False if there is none."""
        return self._step(self._after, self._before)

    def _step(self, source: list[Asked], target: list[Asked]) -> bool:
        if not source:
            return False
        target.append(self.now)
        self.now = source.pop()
        return True
