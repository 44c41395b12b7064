"""
Counts for models: how many joints of each covariate pattern left follow-up on each day, with the event or without.
With categorical covariates the partial likelihood depends on nothing else.
"""

from collections.abc import Collection
from dataclasses import InitVar, dataclass
from functools import cached_property
from typing import Any

import numpy as np

from regdash.errors import CountError
from regdash.stats.counts import whole_numbers
from regdash.stats.events import FIRST_REASON, Entries, EventTable
from regdash.stats.step_curve import RiskSet


@dataclass(frozen=True, eq=False)
class PatternCounts:
    """
    Joints that left follow-up, by covariate pattern, day and event. Rows of joints are patterns counted once.

    A pattern is a distinct row of the design, within one stratum. Rows may come in any order and any number
    for one cell; they are neither sorted nor merged, so that a cluster can be named for each (`robust_covariance`).

    A joint with an entry is at risk from the day after it; joints of a pattern beyond its entries were
    followed from before day 0, so that their events on day 0 count.

    Raises:
        CountError: arrays of unequal length, a missing, negative or broken number, a pattern without a
            number, an event that is not 0 or 1, or more joints that leave than are in follow-up.

    >>> counts = PatternCounts(2, [0, 1, 1], [3, 3, 9], [1, 1, 0], [2, 1, 4])
    >>> counts.events, counts.by_pattern().tolist()
    (3, [2, 5])
    """

    patterns: int  # their numbers run from 0 to patterns - 1
    pattern: np.ndarray  # (r,) int64, number of the pattern
    day: np.ndarray  # (r,) int64, whole days since implantation
    event: np.ndarray  # (r,) int64, 1 where follow-up ended in the event, 0 where it was censored
    joints: np.ndarray | None = None  # (r,) int64, how many; left out: 1 each
    stratum: np.ndarray | None = None  # (patterns,) int64, each pattern's stratum; left out: one for all
    entered: Entries | None = None  # its `group` is the pattern; left out: all entered before day 0
    checked: InitVar[bool] = False  # True only where this package made the arrays from checked counts

    def __post_init__(self, checked: bool) -> None:
        if not checked:
            self._hold(*_columns("", self.pattern, self.day, self.joints, self.event))
            object.__setattr__(self, "stratum", _strata(self.stratum, self.patterns))
            _refuse_unknown(self.pattern, self.patterns)
            if np.any(self.event > 1):
                raise CountError(f"An event is 1 or 0, but one is {int(self.event.max())}. Count joints in `joints`.")
        if self.entered is not None and not checked:
            given = self.entered
            pattern, day, joints, _ = _columns(" of entries", given.group, given.day, given.joints, None)
            _refuse_unknown(pattern, self.patterns)
            object.__setattr__(self, "entered", Entries(pattern, day, np.asarray(joints)))
            self._refuse_early_leavers()

    def _hold(self, pattern: np.ndarray, day: np.ndarray, joints: np.ndarray | None, event: np.ndarray | None) -> None:
        for name, values in (("pattern", pattern), ("day", day), ("joints", joints), ("event", event)):
            object.__setattr__(self, name, values)

    @property
    def weights(self) -> np.ndarray:
        """(r,) joints of each row."""
        return np.ones(len(self.day), dtype=np.int64) if self.joints is None else self.joints

    @property
    def events(self) -> int:
        """Joints with the event."""
        return int(self.event.sum() if self.joints is None else self.event @ self.joints)

    @property
    def strata(self) -> np.ndarray:
        """(patterns,) int64, each pattern's stratum."""
        return np.zeros(self.patterns, dtype=np.int64) if self.stratum is None else self.stratum

    @cached_property
    def numbered_strata(self) -> tuple[np.ndarray, np.ndarray]:
        """The strata that patterns have, sorted, and (patterns,) the place of each pattern's among them."""
        if self.stratum is None:
            return np.zeros(1, dtype=np.int64), self.strata
        return np.unique(self.stratum, return_inverse=True)

    def by_pattern(self) -> np.ndarray:
        """(patterns,) joints that left follow-up, by pattern."""
        return np.bincount(self.pattern, self.joints, self.patterns).astype(np.int64)

    def events_by_pattern(self) -> np.ndarray:
        """(patterns,) joints with the event, by pattern."""
        hit = self.event > 0
        joints = None if self.joints is None else self.joints[hit]
        return np.bincount(self.pattern[hit], joints, self.patterns).astype(np.int64)

    def by_day(self, stratum: int | None = None) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
        """
        Count all patterns together, or those of one stratum.

        Returns:
            (d,) days on which anybody leaves or enters, and on each the joints at risk, those with the
            event, and those that leave in any way.
        """
        rows = slice(None) if stratum is None else self.strata[self.pattern] == stratum
        day, joints, event = self.day[rows], self.weights[rows], self.event[rows]
        late, entering = np.zeros(0, dtype=np.int64), np.zeros(0, dtype=np.int64)
        if self.entered is not None:
            among = slice(None) if stratum is None else self.strata[self.entered.group] == stratum
            late, entering = self.entered.day[among], self.entered.joints[among]
        span = int(max(day.max(initial=-1), late.max(initial=-1))) + 1
        left, events, entered = (
            np.bincount(on, how_many, span).astype(np.int64)
            for on, how_many in ((day, joints), (day, joints * event), (late, entering))
        )
        at_risk = np.cumsum((left - entered)[::-1])[::-1]
        days = np.flatnonzero((left > 0) | (entered > 0))
        return days, at_risk[days], events[days], left[days]

    def followed(self, stratum: int | None = None) -> RiskSet:
        """Count who is in follow-up, day by day, in one stratum or in all."""
        return RiskSet(*self.by_day(stratum)[:2])

    def _refuse_early_leavers(self) -> None:
        """On every day, the joints of a pattern that leave later must include all that enter then or later."""
        assert self.entered is not None
        pattern = np.concatenate([self.pattern, self.entered.group])
        day = np.concatenate([self.day, self.entered.day])
        enters = np.repeat([0, 1], [len(self.day), len(self.entered.day)])  # seen from behind, they come first on a day
        joints = np.concatenate([self.weights, -self.entered.joints])
        order = np.lexsort((-enters, -day, pattern))
        there = np.cumsum(joints[order])
        starts = np.searchsorted(pattern[order], np.arange(self.patterns))
        before = np.insert(there, 0, 0)[starts]
        wrong = np.flatnonzero(there < before[pattern[order]])
        if len(wrong):
            row = order[wrong[0]]
            raise CountError(
                f"In pattern {pattern[row]} more joints enter on day {day[row]} or later than leave after that day. "
                "A joint must enter on an earlier day than it leaves."
            )


def pattern_counts(
    table: EventTable, outcomes: Collection[int] | None = None, stratum: np.ndarray | None = None
) -> PatternCounts:
    """
    Read an event table whose groups are covariate patterns.

    Args:
        outcomes: numbers of the outcomes that are the event; left out, any revision. All others censor.
        stratum: (groups,) int, each group's stratum.

    >>> table = EventTable((("a",), ("b",)), ("censored", "died", "wear"), [0, 1, 1], [5, 9, 9], [2, 0, 1], [1, 2, 3])
    >>> pattern_counts(table).event.tolist()
    [1, 0, 0]
    """
    if outcomes is None:
        outcomes = range(FIRST_REASON, len(table.outcomes))
    event = np.isin(table.outcome, list(outcomes)).astype(np.int64)
    return PatternCounts(len(table.groups), table.group, table.day, event, table.joints, stratum, table.entered)


def _columns(
    of: str, pattern: Any, day: Any, joints: Any | None, event: Any | None
) -> tuple[np.ndarray, np.ndarray, np.ndarray | None, np.ndarray | None]:
    pattern, day = _whole(f"pattern numbers{of}", pattern), _whole(f"days{of}", day)
    joints = None if joints is None else _whole(f"counts{of}", joints)
    event = None if event is None else _whole("events", event)
    lengths = {len(values) for values in (pattern, day, joints, event) if values is not None}
    if len(lengths) > 1:
        raise CountError(f"The columns{of} must be of one length, but are of {sorted(lengths)}.")
    return pattern, day, joints, event


def _whole(name: str, values: Any) -> np.ndarray:
    """As `whole_numbers`, without its passes over a million numbers that are whole by their type."""
    values = np.array(values) if isinstance(values, list | tuple) else values
    plain = isinstance(values, np.ndarray) and not isinstance(values, np.ma.MaskedArray) and values.ndim == 1
    if plain and (values.dtype == bool or (values.dtype.kind in "iu" and values.min(initial=0) >= 0)):
        return values.astype(np.int64, copy=False)
    return whole_numbers(name, values)


def _strata(stratum: Any | None, patterns: int) -> np.ndarray | None:
    if stratum is None:
        return None
    stratum = whole_numbers("strata", stratum)
    if len(stratum) != patterns:
        raise CountError(f"Each of the {patterns:,} covariate patterns needs a stratum, but {len(stratum):,} have one.")
    return stratum


def _refuse_unknown(pattern: np.ndarray, patterns: int) -> None:
    if np.any(pattern >= patterns):
        raise CountError(f"The pattern numbers go to {pattern.max()}, but there are only {patterns:,} patterns.")
