"""The one event table of a screen: joints of one kind, class and role, by the unit that each of them has."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from regdash.signals.model import ALL
from regdash.signals.units import several_times
from regdash.stats.years import days_in


@dataclass(frozen=True, eq=False)
class Pool:
    """
    All joints that are compared with each other: each unit with all others of its pool.

    A joint with two units in one role, such as two stems, has a row for each.
    """

    joint_class: str
    role: str
    codes: tuple[str, ...]  # of the units: implants, constructs, sizes or lots
    apart: np.ndarray  # (units,) bool, in nobody's comparison group but tested themselves
    joint_no: np.ndarray  # (r,) int, number of the joint; no joint has a unit twice
    unit: np.ndarray  # (r,) int, place in `codes`
    day: np.ndarray  # (r,) int, whole days of follow-up
    revised: np.ndarray  # (r,) bool, whether it ended in a revision
    stratum: np.ndarray  # (r,) int, of age band, sex and the like; -1 where one of them is not recorded

    @cached_property
    def comparable(self) -> np.ndarray:
        """(r,) bool: joints that may be compared with, each once."""
        inside = self.inside.copy()
        if self.several:
            rows = np.flatnonzero(inside)
            last = np.zeros(int(self.joint_no.max(initial=-1)) + 1, dtype=np.int32)
            last[self.joint_no[rows]] = rows
            inside[rows] = last[self.joint_no[rows]] == rows
        return inside

    @cached_property
    def inside(self) -> np.ndarray:
        """(r,) bool: rows of joints that may be compared with, having no unit that is apart."""
        inside = np.logical_not(self.apart)[self.unit]
        if self.several and self.apart.any():
            out = np.zeros(int(self.joint_no.max(initial=-1)) + 1, dtype=bool)
            out[self.joint_no[~inside]] = True
            inside &= ~out[self.joint_no]
        return inside

    @cached_property
    def mixed(self) -> np.ndarray:
        """(units,) bool: who is not apart, and has a joint with a unit that is; it counts as its own alone."""
        found = np.zeros(len(self.codes), dtype=bool)
        if self.several and self.apart.any():
            found[self.unit[~self.inside]] = True
            found &= ~self.apart
        return found

    @cached_property
    def several(self) -> int:
        """How many joints have more than one unit."""
        if not several_times(self.joint_no):
            return 0
        return int(np.count_nonzero(np.bincount(self.joint_no) > 1))


@dataclass(frozen=True)
class Window:
    """Time since implantation, after one day and up to another; the first holds day 0."""

    label: str  # as in 1..5
    start: int
    stop: int | None  # None: as long as anybody is followed

    @property
    def whole(self) -> bool:
        """Whether it is all of follow-up."""
        return self.label == ALL

    def reached(self, day: np.ndarray) -> np.ndarray:
        """(r,) bool: whose follow-up ends in the window or later."""
        return day > self.start

    def hit(self, day: np.ndarray, revised: np.ndarray) -> np.ndarray:
        """(r,) bool: who is revised in it."""
        inside = revised & (day > self.start)
        return inside if self.stop is None else inside & (day <= self.stop)

    def spent(self, day: np.ndarray) -> np.ndarray:
        """(r,) days of follow-up within it."""
        first = max(self.start, 0)
        return np.clip(day - first, 0, None if self.stop is None else self.stop - first)


def cuts_of(windows: Sequence[Window]) -> tuple[int, ...]:
    """
    The days after which one window ends and the next begins.

    >>> cuts_of(windows_of([1, 5])), cuts_of(windows_of([]))
    ((365, 1826), ())
    """
    return tuple(window.stop for window in windows if window.stop is not None)


def windows_of(years: Sequence[float]) -> tuple[Window, ...]:
    """
    All of follow-up, then the windows between these years; none where there are no years.

    >>> [(window.label, window.start, window.stop) for window in windows_of([1, 5])]
    [('all', -1, None), ('0..1', -1, 365), ('1..5', 365, 1826), ('5..', 1826, None)]
    """
    whole = Window(ALL, -1, None)
    if not years:
        return (whole,)
    days = [days_in(one) for one in years]
    labels = [f"{one:g}..{other:g}" for one, other in zip((0, *years), years)] + [f"{years[-1]:g}.."]
    return (whole, *(Window(*each) for each in zip(labels, (-1, *days), (*days, None), strict=True)))
