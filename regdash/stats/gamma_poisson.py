"""Shrinkage of observed over expected events: true ratios as from a gamma distribution, events as Poisson."""

from dataclasses import dataclass

import numpy as np

from regdash.errors import CountError, ModelError
from regdash.stats.counts import amounts, whole_numbers
from regdash.stats.limits import z_score
from regdash.stats.roots import tops
from regdash.stats.shrinkage import FEW_UNITS, NO_SPREAD, ShrunkRatio

# Logarithms of the variance of true ratios over their squared mean, between which the likeliest is looked for.
_GRID = np.log(np.geomspace(1e-5, 1e5, 61))
_ROUNDING = 1e-7  # of a log likelihood
_MOST = 100  # steps; about six are enough


@dataclass(frozen=True, eq=False)
class GammaPoisson:
    """The distribution of true ratios between units, at its highest likelihood."""

    observed: np.ndarray  # (k,) int64
    expected: np.ndarray  # (k,) float64
    mean: float  # of the true ratios
    shape: float | None  # of the gamma distribution; None: no spread beyond chance
    rate: float | None  # shape / mean
    loglik: float
    loglik_pooled: float  # of one ratio for all
    note: str | None = None

    def ratios(self, above: float, level: float = 0.95) -> tuple[ShrunkRatio, ...]:
        """
        Give each unit's posterior: mean, limits and the probability of a true ratio above a stated one.

        Where no spread was found, that of the one ratio of all together, by Jeffreys' prior.

        Args:
            above: a ratio of observed over expected, such as 2, or twice `mean`.
            level: each tail has half of the rest.

        Raises:
            ValueError: a ratio or a level that is none.
        """
        from scipy.special import gammaincc, gammainccinv, gammaincinv

        z_score(level)  # refuses a level that is none
        if not 0 <= above < float("inf"):
            raise ValueError(f"A ratio is 0 or more; {above} is not.")
        shape, rate = self._posterior()
        centre = np.full(len(shape), self.mean) if self.shape is None else shape / rate
        tail = (1 - level) / 2
        lower = np.where(centre > 0, gammaincinv(shape, tail) / rate, 0.0)
        upper, beyond = gammainccinv(shape, tail) / rate, gammaincc(shape, rate * above)
        raw = [seen / due if due else None for seen, due in zip(self.observed.tolist(), self.expected.tolist())]
        rows = zip(raw, centre.tolist(), lower.tolist(), upper.tolist(), beyond.tolist(), strict=True)
        return tuple(ShrunkRatio(*row, self.note) for row in rows)

    def _posterior(self) -> tuple[np.ndarray, np.ndarray]:
        if self.shape is None or self.rate is None:
            together = np.ones(len(self.observed))
            return together * (self.observed.sum() + 0.5), together * self.expected.sum()
        return self.shape + self.observed, self.rate + self.expected


def gamma_poisson(observed: np.ndarray, expected: np.ndarray) -> GammaPoisson:
    """
    Estimate how much true ratios differ between units, from marginal (negative binomial) counts.

    One gross outlier makes the spread wide and un-shrinks all others: estimate again without the flagged.

    Args:
        observed: (k,) int, events of each unit.
        expected: (k,) expected events; units with none have the others' distribution as their posterior.

    Raises:
        CountError: unequal lengths, a broken number, or events where none are expected.
        ModelError: nothing expected of any unit.

    Source:
        Clayton & Kaldor (1987), Biometrics 43:671-681; DuMouchel (1999), Am Stat 53:177-190.

    >>> fit = gamma_poisson(np.array([0, 4, 12]), np.array([3.0, 4.0, 5.0]))
    >>> [round(one.ratio, 2) for one in fit.ratios(above=2)]
    [0.27, 1.03, 2.22]
    """
    observed, expected = whole_numbers("observed events", observed), amounts("expected events", expected)
    if len(observed) != len(expected):
        raise CountError(f"Observed and expected must be of one length, but are {len(observed)} and {len(expected)}.")
    if np.any(observed[expected == 0] > 0):
        raise CountError("A unit has events, though none are expected of it: it has no ratio. Leave it out.")
    if not expected.any():
        raise ModelError("Nothing is expected of any unit, so that there is no ratio to shrink.")
    seen, due = observed[expected > 0], expected[expected > 0]
    pooled = float(observed.sum() / expected.sum())
    loglik_pooled = _poisson_loglik(seen, pooled * due)
    spread = _likeliest_spread(seen, due) if pooled > 0 and len(seen) > 1 else 0.0
    if spread == 0:
        return GammaPoisson(observed, expected, pooled, None, None, loglik_pooled, loglik_pooled, NO_SPREAD)
    mean = float(_likeliest_mean(seen, due, np.array([spread]))[0])
    loglik = float(_loglik(seen, due, np.array([mean]), np.array([spread]))[0])
    note = FEW_UNITS if len(seen) < 20 else None
    return GammaPoisson(observed, expected, mean, 1 / spread, 1 / (spread * mean), loglik, loglik_pooled, note)


def _likeliest_spread(seen: np.ndarray, due: np.ndarray) -> float:
    """The relative variance with the highest likelihood; 0 where that is none."""

    def slope(log_spread: np.ndarray) -> np.ndarray:
        spread = np.exp(log_spread)
        return _slope(seen, due, _likeliest_mean(seen, due, spread), spread)

    found = np.exp(tops(slope, _GRID))
    if not len(found):
        return 0.0
    height = _loglik(seen, due, _likeliest_mean(seen, due, found), found)
    best = int(np.argmax(height))
    pooled = _poisson_loglik(seen, due * seen.sum() / due.sum())
    return float(found[best]) if height[best] > pooled + _ROUNDING else 0.0


def _likeliest_mean(seen: np.ndarray, due: np.ndarray, spread: np.ndarray) -> np.ndarray:
    """
    (g,) the mean ratio with the highest likelihood for each relative variance.

    The slope of the likelihood falls in the mean and is convex, so that Newton's steps from the left never pass the
    top; one from the right lands on the left of it.
    """
    ratio = seen / due
    low, mean = ratio.min() / 2, np.full(len(spread), seen.sum() / due.sum())
    weight = due * (1 + spread[:, None] * seen)
    for _ in range(_MOST):
        scale = 1 + (spread * mean)[:, None] * due
        slope, curve = ((seen - mean[:, None] * due) / scale).sum(axis=1), (weight / scale**2).sum(axis=1)
        goal = np.maximum(mean + slope / curve, low)
        done = np.abs(goal - mean) <= 4 * np.finfo(float).eps * mean
        mean = goal
        if done.all():
            break
    return mean


def _loglik(seen: np.ndarray, due: np.ndarray, mean: np.ndarray, spread: np.ndarray) -> np.ndarray:
    """(g,) log likelihood of negative binomial counts."""
    from scipy.special import gammaln, xlogy

    shape, expected = 1 / spread[:, None], mean[:, None] * due
    ways = gammaln(shape + seen) - gammaln(shape) - gammaln(seen + 1.0)
    return (ways + xlogy(seen, expected / (shape + expected)) - shape * np.log1p(expected / shape)).sum(axis=1)


def _slope(seen: np.ndarray, due: np.ndarray, mean: np.ndarray, spread: np.ndarray) -> np.ndarray:
    """(g,) derivative of it by the logarithm of the spread."""
    from scipy.special import digamma

    shape, expected = 1 / spread[:, None], mean[:, None] * due
    by_shape = (
        digamma(shape + seen) - digamma(shape) - np.log1p(expected / shape) + (expected - seen) / (shape + expected)
    )
    return -(shape * by_shape).sum(axis=1)


def _poisson_loglik(seen: np.ndarray, expected: np.ndarray) -> float:
    from scipy.special import gammaln, xlogy

    return float(np.sum(xlogy(seen, expected) - expected - gammaln(seen + 1.0)))
