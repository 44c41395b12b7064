"""Joints by the unit that each of them has, in windows of time since implantation."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from regdash.stats.cox_counts import PatternCounts
from regdash.stats.risk_shares import Counted


@dataclass(frozen=True, eq=False)
class UnitRows:
    """
    Joints that leave follow-up, by unit, stratum, day and event, in the order of their units.

    The first window is all of follow-up; where it is cut after some days, one up to each cut and one after the last
    follow. In a window are at risk all whose follow-up reaches it, so that nobody enters late.
    """

    unit: np.ndarray  # (r,) int, rising up to `units`; those from there on are compared with alone
    units: int
    stratum: np.ndarray  # (r,) int
    day: np.ndarray  # (r,) int
    event: np.ndarray  # (r,) bool
    joints: np.ndarray | None = None  # (r,) float, negative for those that enter late; None: 1 each
    cuts: tuple[int, ...] = ()  # days, rising, after which one window ends and the next begins
    again: np.ndarray | None = None  # (r,) bool, joints that stand among all with another unit; None: none of them

    @classmethod
    def of(cls, counts: PatternCounts, unit: np.ndarray, units: int) -> "UnitRows":
        """Read counts by pattern, given (patterns,) the unit of each pattern."""
        pattern, day, event, joints = counts.pattern, counts.day, counts.event > 0, counts.joints
        if counts.entered is not None:
            late = counts.entered
            pattern, day = np.concatenate([pattern, late.group]), np.concatenate([day, late.day])
            event = np.concatenate([event, np.zeros(len(late.group), dtype=bool)])
            joints = np.concatenate([counts.weights, -late.joints])
        stratum = counts.strata[pattern]
        return cls.sorted(unit[pattern], units, stratum, day, event, None if joints is None else joints.astype(float))

    @classmethod
    def sorted(
        cls,
        unit: np.ndarray,
        units: int,
        stratum: np.ndarray,
        day: np.ndarray,
        event: np.ndarray,
        joints: np.ndarray | None = None,
        cuts: tuple[int, ...] = (),
        again: np.ndarray | None = None,
    ) -> "UnitRows":
        """Put rows in the order of their units; those of no unit that is screened come last, in any order."""
        if len(unit) > 1 and np.any(unit[1:] < unit[:-1]):
            own = unit < units
            order = np.concatenate([np.flatnonzero(own), np.flatnonzero(~own)])
            first = unit[order[: np.count_nonzero(own)]]
            if np.any(first[1:] < first[:-1]):
                small = unit.astype(np.uint16) if unit.max() < 2**16 else unit  # 16 bits are sorted digit by digit
                order = np.argsort(small, kind="stable")
            unit, stratum, day, event = (column[order] for column in (unit, stratum, day, event))
            joints = None if joints is None else joints[order]
            again = None if again is None else again[order]
        return cls(unit, units, stratum, day, event, joints, cuts, again)

    @property
    def windows(self) -> int:
        """How many there are."""
        return len(self.cuts) + 2 if self.cuts else 1

    @property
    def own(self) -> slice:
        """The rows of units that are screened."""
        return slice(int(np.count_nonzero(self.unit < self.units)))

    def only(self, which: np.ndarray) -> "UnitRows":
        """Some of the rows, in their order."""
        kept = {name: getattr(self, name)[which] for name in ("unit", "stratum", "day", "event")}
        joints = None if self.joints is None else self.joints[which]
        return replace(self, **kept, joints=joints, again=None if self.again is None else self.again[which])

    @property
    def once(self) -> np.ndarray | None:
        """(r,) float joints, each counted once however many units it has; None: 1 each."""
        if self.again is None:
            return self.joints
        return np.where(self.again, 0.0, 1.0 if self.joints is None else self.joints)

    def counted(self, seen: np.ndarray) -> Counted:
        """Count each unit's joints and events in each window; (windows,) bool says which have events at all."""
        parts, own = max(self.windows - 1, 1), self.own
        key = self.unit[own] * np.intp(parts)
        key += window_of(self.day[own], self.cuts)
        joints, size = None if self.joints is None else self.joints[own], self.units * parts
        left = np.bincount(key, None if joints is None else np.maximum(joints, 0), size).reshape(-1, parts)
        hit = np.flatnonzero(self.event[own])
        events = np.bincount(key[hit], None if joints is None else joints[hit], size).reshape(-1, parts)
        reach = np.cumsum(left[:, ::-1], axis=1)[:, ::-1]  # whoever leaves in a window or later reaches it
        if self.windows > 1:
            reach = np.concatenate([reach[:, :1], reach], axis=1)
            events = np.concatenate([events.sum(axis=1, keepdims=True), events], axis=1)
        return Counted(reach.astype(np.int64), events.astype(np.int64), seen)


def window_of(day: np.ndarray, cuts: Sequence[int]) -> np.ndarray:
    """
    Tell the window of each day, the first being the one up to and including the first cut.

    >>> window_of(np.array([0, 365, 366, 9000]), (365, 1826)).tolist()
    [0, 0, 1, 2]
    """
    found = np.zeros(len(day), dtype=np.intp)
    for cut in cuts:
        found += day > cut
    return found
