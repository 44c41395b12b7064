"""
The event table: for each group, at each day since implantation, how many joints left follow-up and why.
Every figure on implant survival is arithmetic on it.
"""

from dataclasses import InitVar, dataclass
from typing import Any

import numpy as np

from regdash.errors import CountError
from regdash.stats.counts import at_risk_on, whole_numbers

CENSORED, DIED, FIRST_REASON = 0, 1, 2  # columns of outcomes: reasons for revision follow from the third on
FIRST_OUTCOMES = (
    ("censored", "died"),
    ("censored", "died or otherwise revised"),  # of an endpoint with which other revisions compete
)


@dataclass(frozen=True, eq=False)
class GroupCounts:
    """One group's counts, dense: a row for each day on which a joint left (or entered) follow-up."""

    days: np.ndarray  # (m,) int64, whole days since implantation, strictly increasing
    left: np.ndarray  # (m,) int64, joints whose follow-up ended on each day in any way
    by_outcome: np.ndarray  # (m, k) int64, the same by outcome; rows add up to left
    entered: np.ndarray | None = None  # (m,) int64, joints that entered at the end of each day; None: all before day 0

    @property
    def joints(self) -> int:
        """Joints of the group."""
        return int(self.left.sum())

    @property
    def revised(self) -> np.ndarray:
        """(m,) joints revised on each day, for whatever reason."""
        return self.by_outcome[:, FIRST_REASON:].sum(axis=1)

    @property
    def competing(self) -> np.ndarray:
        """(m, k - 1) joints by cause on each day: died, then each reason for revision."""
        return self.by_outcome[:, DIED:]

    @property
    def at_risk(self) -> np.ndarray:
        """(m,) joints in follow-up just before the events of each day."""
        return at_risk_on(self.days, self.left, self.entered)

    @property
    def implant_days(self) -> int:
        """Days in follow-up of all joints together; `years_in` makes implant-years of them."""
        gone = self.left if self.entered is None else self.left - self.entered
        return int(self.days @ gone)


@dataclass(frozen=True, eq=False)
class Entries:
    """Joints that enter the risk set later than the day before implantation (landmarks, calendar windows)."""

    group: np.ndarray  # (r,) number of the group
    day: np.ndarray  # (r,) whole days since implantation; at risk from the next day on
    joints: np.ndarray  # (r,) how many


@dataclass(frozen=True, eq=False)
class EventTable:
    """
    Joints that left follow-up, by group, day and outcome.

    Made from arrays of any numeric type as a database gives them, in any order and with any number of
    rows for one cell; held as read-only int64 arrays, sorted, one row a cell, none of them 0.

    Raises:
        CountError: arrays of unequal length, a missing, negative or broken number, or a number of a
            group or an outcome that has no label.

    >>> table = EventTable((("total",),), ("censored", "died", "wear"), [0, 0, 0], [9, 5, 9], [0, 2, 0], [2, 1, 3])
    >>> table.day.tolist(), table.joints.tolist()
    ([5, 9], [1, 5])
    """

    groups: tuple[tuple[str, ...], ...]  # labels, one tuple a group
    outcomes: tuple[str, ...]  # 'censored', 'died', then reason groups
    group: np.ndarray  # (r,) int64, number of the group
    day: np.ndarray  # (r,) int64, whole days since implantation
    outcome: np.ndarray  # (r,) int64, number of the outcome
    joints: np.ndarray  # (r,) int64, how many
    entered: Entries | None = None  # left out: every joint enters before day 0
    checked: InitVar[bool] = False  # True only where this package made the cells, in order and none of them 0

    def __post_init__(self, checked: bool) -> None:
        if self.outcomes[:FIRST_REASON] not in FIRST_OUTCOMES:
            raise CountError(
                f"The first outcomes must be 'censored' and 'died', but are {self.outcomes[:FIRST_REASON]}."
            )
        cells: tuple[np.ndarray, ...] = (self.group, self.day, self.outcome, self.joints)
        if not checked:
            of_cells = ("group numbers", "days", "outcome numbers", "counts")
            cells = _cells(of_cells, cells, (len(self.groups), None, len(self.outcomes)))
        for name, values in zip(("group", "day", "outcome", "joints"), cells, strict=True):
            values.flags.writeable = False
            object.__setattr__(self, name, values)
        if self.entered is not None:
            entered = (self.entered.group, self.entered.day, self.entered.joints)
            names = ("group numbers of entries", "days of entries", "counts of entries")
            object.__setattr__(self, "entered", Entries(*_cells(names, entered, (len(self.groups), None))))

    def of(self, group: int) -> GroupCounts:
        """
        Give one group's counts by day and outcome, dense.

        Raises:
            IndexError: a number of a group that the table does not have.

        >>> table = EventTable((("total",),), ("censored", "died", "wear"), [0, 0, 0], [5, 9, 9], [2, 0, 1], [1, 2, 3])
        >>> table.of(0).days.tolist(), table.of(0).left.tolist(), table.of(0).by_outcome.tolist()
        ([5, 9], [1, 5], [[0, 0, 1], [2, 3, 0]])
        """
        if not 0 <= group < len(self.groups):
            raise IndexError(f"There is no group {group} among {len(self.groups)}.")
        rows = slice(*np.searchsorted(self.group, [group, group + 1]))
        late, entering = self._entries_of(group)
        day = self.day[rows]
        days = day[_is_first(day)] if self.entered is None else np.unique(np.concatenate([day, late]))
        by_outcome = np.zeros((len(days), len(self.outcomes)), dtype=np.int64)
        by_outcome[np.searchsorted(days, day), self.outcome[rows]] = self.joints[rows]
        entered = None
        if self.entered is not None:
            entered = np.zeros(len(days), dtype=np.int64)
            entered[np.searchsorted(days, late)] = entering
        return GroupCounts(days, by_outcome.sum(axis=1), by_outcome, entered)

    def _entries_of(self, group: int) -> tuple[np.ndarray, np.ndarray]:
        if self.entered is None:
            return self.day[:0], self.joints[:0]
        rows = slice(*np.searchsorted(self.entered.group, [group, group + 1]))
        return self.entered.day[rows], self.entered.joints[rows]


def _is_first(rising: np.ndarray) -> np.ndarray:
    """(r,) bool, which of equal numbers comes first."""
    return np.diff(rising, prepend=-1) > 0


def _cells(names: tuple[str, ...], given: tuple[Any, ...], bounds: tuple[int | None, ...]) -> tuple[np.ndarray, ...]:
    """Check keys and counts (last), sort by the keys, merge rows of one cell, leave out empty cells."""
    *keys, counts = (whole_numbers(name, values) for name, values in zip(names, given, strict=True))
    lengths = {len(values) for values in (*keys, counts)}
    if len(lengths) > 1:
        raise CountError(f"The columns of an event table must be of one length, but are of {sorted(lengths)}.")
    for name, key, bound in zip(names, keys, bounds, strict=False):
        if bound is not None and np.any(key >= bound):
            raise CountError(f"The {name} go to {key.max()}, but only 0 to {bound - 1} have a label.")
    cells = _sorted_and_merged(keys, counts)
    for values in cells:
        values.flags.writeable = False
    return cells


def _sorted_and_merged(keys: list[np.ndarray], counts: np.ndarray) -> tuple[np.ndarray, ...]:
    if not counts.all():
        keys, counts = [key[counts > 0] for key in keys], counts[counts > 0]
    cell = np.ravel_multi_index(keys, [int(key.max(initial=0)) + 1 for key in keys])
    if np.all(np.diff(cell) > 0):  # as a database sorts them; sorting would cost more than all the rest
        return (*keys, counts)
    order = np.argsort(cell)
    starts = np.flatnonzero(np.diff(cell[order], prepend=-1))
    return (*(key[order[starts]] for key in keys), np.add.reduceat(counts[order], starts))
