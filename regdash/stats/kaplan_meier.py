"""Net revision risk: the proportion revised, had nobody died of anything else."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from regdash.stats.counts import checked_at_risk, whole_numbers
from regdash.stats.limits import RiskAt, RiskCurve, Scale
from regdash.stats.step_curve import RiskSet, StepCurve


@dataclass(frozen=True, eq=False)
class NetRisk:
    """A step function: each value holds from its day until the next."""

    days: np.ndarray  # (k,) int64, days with a revision, strictly increasing
    at_risk: np.ndarray  # (k,) int64, joints in follow-up just before each day
    revised: np.ndarray  # (k,) int64, joints revised on each day
    risk: np.ndarray  # (k,) proportion revised by the end of each day, 0 to 1
    se: np.ma.MaskedArray  # (k,) Greenwood standard error of risk; masked where every joint is revised
    followed: RiskSet  # joints in follow-up on any day

    @cached_property
    def steps(self) -> StepCurve:
        """The same, for reading."""
        return StepCurve(self.days, self.revised, self.risk, self.se.filled(0), self.followed)

    def at(self, days: Sequence[int] | np.ndarray, level: float = 0.95, scale: Scale = "log-log") -> tuple[RiskAt, ...]:
        """Read risk, limits and joints at risk at the end of each of these days, as `StepCurve.at`."""
        return self.steps.at(days, level, scale)

    def curve(self, level: float = 0.95, scale: Scale = "log-log") -> RiskCurve:
        """Give the whole curve with limits, as `StepCurve.curve`."""
        return self.steps.curve(level, scale)


def kaplan_meier(days: np.ndarray, revised: np.ndarray, left: np.ndarray, entered: np.ndarray | None = None) -> NetRisk:
    """
    Estimate the proportion of joints revised, had nobody died of anything else.

    Death and end of follow-up censor. When a revision and a censoring fall on the same day the
    revision counts first.

    Args:
        days: (m,) int, whole days since implantation, strictly increasing. Day 0 is allowed.
        revised: (m,) int, joints whose follow-up ended in revision on each day.
        left: (m,) int, joints whose follow-up ended on each day for any cause, revised ones included.
        entered: (m,) int, joints whose follow-up began at the end of each day (at risk from the next);
            left out, all began before day 0.

    Returns:
        One row per day with a revision (k of them); empty if there are none.

    Raises:
        CountError: unequal lengths, a negative count, more revised than left, or more leaving than
            are in follow-up.

    Source:
        Kaplan & Meier (1958), JASA 53:457-481; ties as on p. 461. Variance: Greenwood (1926).

    >>> curve = kaplan_meier(np.array([1, 2, 3]), np.array([1, 1, 0]), np.array([1, 2, 1]))
    >>> curve.days.tolist(), curve.risk.tolist()
    ([1, 2], [0.25, 0.5])
    """
    days, left = whole_numbers("days", days), whole_numbers("leaving joints", left)
    revised = whole_numbers("revised joints", revised)
    entered = None if entered is None else whole_numbers("entering joints", entered)
    at_risk = checked_at_risk(days, revised, left, entered)
    hit = revised > 0
    d, n = revised[hit], at_risk[hit]
    free = np.cumprod(1 - d / n)
    # Summing the steps keeps the precision of a small risk, which 1 - free would lose.
    risk = np.where(free > 0, np.minimum(np.cumsum(np.insert(free, 0, 1)[:-1] * d / n), 1), 1)
    ended = d == n
    greenwood = np.cumsum(d / (n * np.where(ended, 1, n - d)))
    se = np.ma.MaskedArray(free * np.sqrt(greenwood), free == 0)
    return NetRisk(days[hit], n, d, risk, se, RiskSet(days, at_risk))
