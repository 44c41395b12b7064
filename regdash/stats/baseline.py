"""The hazard that a Cox model leaves to time: its baseline, stratum by stratum."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from regdash.stats.cox import CoxFit


@dataclass(frozen=True, eq=False)
class BaselineHazard:
    """Cumulative hazard where every covariate is 0: each value holds from its day until the next."""

    stratum: int
    days: np.ndarray  # (m,) int64, days with an event, strictly increasing
    events: np.ndarray  # (m,) int64, events on each day
    hazard: np.ndarray  # (m,) cumulative, by the end of each day

    def at(self, days: Sequence[int] | np.ndarray) -> np.ndarray:
        """Read it at the end of each of these days."""
        return np.insert(self.hazard, 0, 0)[np.searchsorted(self.days, days, side="right")]


def baseline_hazard(fit: CoxFit) -> tuple[BaselineHazard, ...]:
    """
    Estimate the cumulative hazard of a joint whose covariates (and offset) are all 0.

    Breslow's ties: events over summed hazards, so that expected events add up to the observed; Efron's:
    each tied event leaves its share of the risk set.

    Returns:
        One a stratum that has events, in rising order.

    Source:
        Breslow (1972), discussion of Cox, JRSS B 34:216-217; with Efron's ties as R's survival.
    """
    cells, labels = fit.scaled.likelihood.sets.cells, fit.counts.numbered_strata[0]
    at_zero = np.exp(-float(fit.scaled.centre @ fit.coef))
    found = []
    for stratum, (first, end) in enumerate(cells.bounds):
        if end > first:
            hazard = np.cumsum(fit.point.in_risk_set[first:end] * at_zero)
            found.append(BaselineHazard(int(labels[stratum]), cells.day[first:end], cells.events[first:end], hazard))
    return tuple(found)
