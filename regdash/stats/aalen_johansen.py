"""Cumulative incidence by cause: what happens to patients, death and every other cause competing."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from regdash.errors import CountError
from regdash.stats.counts import checked_at_risk, whole_numbers
from regdash.stats.limits import RiskAt, RiskCurve, Scale
from regdash.stats.step_curve import RiskSet, StepCurve


@dataclass(frozen=True, eq=False)
class CumulativeIncidence:
    """Step functions, one a cause: each value holds from its day until the next. free + incidence adds up to 1."""

    days: np.ndarray  # (k,) int64, days with an event of any cause, strictly increasing
    at_risk: np.ndarray  # (k,) int64, joints in follow-up just before each day
    events: np.ndarray  # (k, c) int64, joints with an event on each day, by cause
    free: np.ndarray  # (k,) proportion free of every cause by the end of each day
    incidence: np.ndarray  # (k, c) proportion with an event of each cause by the end of each day
    variance: np.ndarray  # (k, c) its variance
    followed: RiskSet  # joints in follow-up on any day

    def of(self, cause: int) -> StepCurve:
        """One cause's curve, with a row for each day with an event of that cause; causes count from 0."""
        hit = self.events[:, cause] > 0
        se = np.sqrt(self.variance[hit, cause])
        return StepCurve(self.days[hit], self.events[hit, cause], self.incidence[hit, cause], se, self.followed)

    def at(
        self, days: Sequence[int] | np.ndarray, cause: int, level: float = 0.95, scale: Scale = "log-log"
    ) -> tuple[RiskAt, ...]:
        """Read one cause's incidence, limits and joints at risk at the end of each of these days, as `StepCurve.at`."""
        return self.of(cause).at(days, level, scale)

    def curve(self, cause: int, level: float = 0.95, scale: Scale = "log-log") -> RiskCurve:
        """Give one cause's whole curve with limits, as `StepCurve.curve`."""
        return self.of(cause).curve(level, scale)

    def covariance_at(self, day: int) -> np.ndarray:
        """
        Find how the incidences of the causes by the end of one day vary together.

        Adds up, over days t_j up to t (S just before t_j, d of n joints), with D_k = F_k(t) - F_k(t_j):

            S² (d_k [k = l] - d_k d_l / n) / n²  -  S (D_l d_k + D_k d_l) / n²  +  D_k D_l d_all / (n (n - d_all))

        Returns:
            (c, c) with the variances on the diagonal; over all causes it adds up to Greenwood's of free.

        Source:
            Delta method on the hazards of one day, d_k / n, which covary as (d_k [k = l] - d_k d_l / n) / n²; equal
            to the infinitesimal jackknife where rows are independent and all enter on one day.
        """
        upto = int(np.searchsorted(self.days, day, side="right"))
        d, n = self.events[:upto], self.at_risk[:upto, None].astype(float)
        if not upto:
            return np.zeros((d.shape[1], d.shape[1]))
        free_before = np.insert(self.free, 0, 1)[:upto, None]
        to_come, d_all = self.incidence[upto - 1] - self.incidence[:upto], d.sum(axis=1, keepdims=True)
        own = free_before**2 / n**2 * d
        cross = (free_before / n**2 * d).T @ to_come
        survival = np.where(d_all < n, d_all / (n * np.maximum(n - d_all, 1)), 0)
        return np.diag(own.sum(axis=0)) - (own / n).T @ d - cross - cross.T + to_come.T @ (survival * to_come)


def aalen_johansen(
    days: np.ndarray, by_cause: np.ndarray, left: np.ndarray, entered: np.ndarray | None = None
) -> CumulativeIncidence:
    """
    Estimate the proportion of joints with an event of each cause, all causes competing.

    Limits are taken on the scale log(-log(1 - F)), so that a single cause has the limits of
    1 - Kaplan-Meier; some programs call the limits of log(-log F) by the same name.

    Args:
        days: (m,) int, whole days since implantation, strictly increasing. Day 0 is allowed.
        by_cause: (m, c) int, joints whose follow-up ended on each day, by cause; death is one of them.
        left: (m,) int, joints whose follow-up ended on each day in any way, censored ones included.
        entered: (m,) int, joints whose follow-up began at the end of each day (at risk from the next);
            left out, all began before day 0.

    Returns:
        One row per day with an event of any cause (k of them); empty if there are none.

    Raises:
        CountError: unequal lengths, a negative count, more events than joints that left, or more
            leaving than are in follow-up.

    Source:
        Aalen & Johansen (1978), Scand J Stat 5:141-150. Variance by the delta method, as in
        Marubini & Valsecchi (1995); equal to the infinitesimal jackknife where rows are independent
        and all enter on one day.

    >>> risk = aalen_johansen(np.array([1, 2]), np.array([[1, 0], [0, 1]]), np.array([1, 2]))
    >>> risk.incidence.round(4).tolist(), risk.free.round(4).tolist()
    ([[0.3333, 0.0], [0.3333, 0.3333]], [0.6667, 0.3333])
    """
    by_cause = np.ma.asarray(by_cause)
    if by_cause.ndim != 2:
        raise CountError(f"Counts by cause must be days × causes, but come in {by_cause.ndim} dimensions.")
    days, left = whole_numbers("days", days), whole_numbers("leaving joints", left)
    by_cause = whole_numbers("joints by cause", by_cause.reshape(-1)).reshape(by_cause.shape)
    entered = None if entered is None else whole_numbers("entering joints", entered)
    at_risk = checked_at_risk(days, by_cause.sum(axis=1), left, entered)
    hit = by_cause.any(axis=1)
    d, n = by_cause[hit], at_risk[hit]
    free = np.cumprod(1 - d.sum(axis=1) / n)
    before = np.insert(free, 0, 1)[:-1]
    incidence = np.minimum(np.cumsum((before / n)[:, None] * d, axis=0), 1)
    return CumulativeIncidence(
        days[hit], n, d, free, incidence, _delta_method(incidence, before, d, n), RiskSet(days, at_risk)
    )


def _delta_method(incidence: np.ndarray, before: np.ndarray, d: np.ndarray, n: np.ndarray) -> np.ndarray:
    """
    Add up, for F of each cause at every t, over days t_j up to t (S just before t_j, d of n joints):

        (F(t) - F_j)² d_all / (n (n - d_all))  +  S² d (n - d) / n³  -  2 (F(t) - F_j) S d / n²

    The squares are multiplied out, so that running sums do for all t at once.
    """
    d_all = d.sum(axis=1)
    # Where everybody at risk has an event, F never moves again and the first term is 0 for every later t.
    survival = (d_all / (n * np.maximum(n - d_all, 1)) * (d_all < n))[:, None]
    own = (before / n)[:, None] ** 2 * d * (1 - d / n[:, None])
    cross = (before / n**2)[:, None] * d
    both, linear = survival * incidence + cross, np.cumsum(survival, axis=0)
    constant = np.cumsum(own + incidence * (survival * incidence + 2 * cross), axis=0)
    return np.maximum(incidence * (incidence * linear - 2 * np.cumsum(both, axis=0)) + constant, 0)
