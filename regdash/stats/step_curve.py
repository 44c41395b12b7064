"""Reading a step curve: its value on any day, who is still followed then, and the whole of it with limits."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from regdash.stats.limits import ALL_HAD_IT, EXACT_BOUND, NO_FOLLOW_UP, RiskAt, RiskCurve, Scale, risk_limits


@dataclass(frozen=True, eq=False)
class RiskSet:
    """How many joints are in follow-up, day by day."""

    days: np.ndarray  # (m,) int64, days on which a joint left or entered, strictly increasing
    at_risk: np.ndarray  # (m,) int64, joints in follow-up just before the events of each day

    @cached_property
    def last_day(self) -> int | None:
        """The last day on which anybody is followed; None for an empty group."""
        followed = np.flatnonzero(self.at_risk)
        return int(self.days[followed[-1]]) if len(followed) else None

    def at(self, days: Sequence[int] | np.ndarray) -> np.ndarray:
        """
        Count the joints whose follow-up reaches each day: those at risk just before its events.

        >>> RiskSet(np.array([3, 7]), np.array([5, 2])).at([0, 3, 4, 7, 8]).tolist()
        [5, 5, 2, 2, 0]
        """
        return np.append(self.at_risk, 0)[np.searchsorted(self.days, days, side="left")]


@dataclass(frozen=True, eq=False)
class StepCurve:
    """A risk that steps up on some days. Net risk and cumulative incidence are both read through it."""

    days: np.ndarray  # (k,) int64, strictly increasing
    events: np.ndarray  # (k,) int64, events on each day
    risk: np.ndarray  # (k,) by the end of each day
    se: np.ndarray  # (k,) its standard error; 0 where risk is 0 or 1
    followed: RiskSet

    def at(self, days: Sequence[int] | np.ndarray, level: float = 0.95, scale: Scale = "log-log") -> tuple[RiskAt, ...]:
        """
        Read the curve at the end of each of these days.

        A day on which nobody is in follow-up has no risk: a curve is never drawn out beyond its last
        observation.
        """
        asked = np.asarray(days, dtype=np.int64)
        at_risk = self.followed.at(asked)
        risk, se, events = (self._by(asked, values) for values in (self.risk, self.se, np.cumsum(self.events)))
        lower, upper = (limit.tolist() for limit in risk_limits(risk, se, at_risk, level, scale))
        found = zip(asked.tolist(), at_risk.tolist(), events.tolist(), risk.tolist(), lower, upper, strict=True)
        return tuple(_risk_at(*values) for values in found)

    def curve(self, level: float = 0.95, scale: Scale = "log-log") -> RiskCurve:
        """Give the whole curve with limits, from day 0 to the last day of follow-up; empty for an empty group."""
        days = _with(self.days, [] if self.followed.last_day is None else [0, self.followed.last_day])
        risk, se, at_risk = self._by(days, self.risk), self._by(days, self.se), self.followed.at(days)
        return RiskCurve(days, risk, *risk_limits(risk, se, at_risk, level, scale), at_risk)

    def se_at(self, days: Sequence[int] | np.ndarray) -> np.ndarray:
        """(g,) standard error at the end of each of these days; 0 where risk is 0 or 1, whoever is followed."""
        return self._by(np.asarray(days, dtype=np.int64), self.se)

    def _by(self, days: np.ndarray, values: np.ndarray) -> np.ndarray:
        """The value that holds at the end of each day; 0 before the first step."""
        return np.concatenate(([0], values))[np.searchsorted(self.days, days, side="right")]


def _with(days: np.ndarray, ends: Sequence[int]) -> np.ndarray:
    """Put further days among rising ones, if they are not there; `np.unique` would take longer than the curve."""
    missing = np.unique([end for end in ends if end not in days]).astype(np.int64)
    return np.insert(days, np.searchsorted(days, missing), missing)


def _risk_at(day: int, at_risk: int, events: int, risk: float, lower: float | None, upper: float | None) -> RiskAt:
    if at_risk == 0:
        return RiskAt(day, at_risk, events, None, None, None, NO_FOLLOW_UP)
    if lower is None:
        return RiskAt(day, at_risk, events, risk, None, None, ALL_HAD_IT)
    return RiskAt(day, at_risk, events, risk, lower, upper, None if risk > 0 else EXACT_BOUND)
