"""Shrinkage of observed over expected events: true ratios as from a gamma distribution, events as Poisson."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from regdash.errors import CountError, ModelError
from regdash.stats.counts import amounts, whole_numbers
from regdash.stats.limits import z_score
from regdash.stats.roots import roots
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
        from scipy.special import gammainccinv, gammaincinv

        z_score(level)  # refuses a level that is none
        centre, beyond = self.means_and_tails(above)
        shape, rate = self._posterior()
        tail = (1 - level) / 2
        lower = np.where(centre > 0, gammaincinv(shape, tail) / rate, 0.0)
        upper = gammainccinv(shape, tail) / rate
        raw = [seen / due if due else None for seen, due in zip(self.observed.tolist(), self.expected.tolist())]
        rows = zip(raw, centre.tolist(), lower.tolist(), upper.tolist(), beyond.tolist(), strict=True)
        return tuple(ShrunkRatio(*row, self.note) for row in rows)

    def means_and_tails(self, above: float) -> tuple[np.ndarray, np.ndarray]:
        """(k,) posterior means, and (k,) probabilities of a true ratio above a stated one, as `ratios`."""
        from scipy.special import gammaincc

        if not 0 <= above < float("inf"):
            raise ValueError(f"A ratio is 0 or more; {above} is not.")
        shape, rate = self._posterior()
        centre = np.full(len(shape), self.mean) if self.shape is None else shape / rate
        return centre, gammaincc(shape, rate * above)

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
    return gamma_poisson_of_groups(observed, expected, [len(observed)])[0]


def gamma_poisson_of_groups(
    observed: np.ndarray, expected: np.ndarray, sizes: Sequence[int]
) -> tuple[GammaPoisson, ...]:
    """
    Estimate it for several groups of units, each by itself, at the cost of one.

    Args:
        observed, expected: (k,) as `gamma_poisson`, group after group.
        sizes: units of each group.

    Raises:
        CountError, ModelError: as `gamma_poisson`.
    """
    observed, expected = whole_numbers("observed events", observed), amounts("expected events", expected)
    if len(observed) != len(expected) or sum(sizes) != len(observed):
        raise CountError(f"Observed and expected must be of one length, but are {len(observed)} and {len(expected)}.")
    if np.any(observed[expected == 0] > 0):
        raise CountError("A unit has events, though none are expected of it: it has no ratio. Leave it out.")
    group = np.repeat(np.arange(len(sizes)), sizes)
    if not np.all(np.bincount(group, expected, len(sizes)) > 0):
        raise ModelError("Nothing is expected of any unit, so that there is no ratio to shrink.")
    there = expected > 0
    units = _Units(observed[there], expected[there], np.bincount(group[there], minlength=len(sizes)))
    seen, due = np.bincount(group, observed, len(sizes)), np.bincount(group, expected, len(sizes))
    pooled, spread = seen / due, _likeliest_spreads(units)
    loglik_pooled = units.poisson_loglik(pooled)
    spread[(pooled == 0) | (units.sizes < 2)] = 0.0
    some = np.flatnonzero(spread > 0)
    wide = units.of(some)
    mean = _likeliest_mean(wide, spread[some][:, None])[:, 0]
    loglik = wide.loglik(mean[:, None], spread[some][:, None])[:, 0]
    found, first = [], 0
    fitted = dict(zip(some.tolist(), zip(spread[some].tolist(), mean.tolist(), loglik.tolist()), strict=True))
    for number, size in enumerate(sizes):
        own = observed[first : first + size], expected[first : first + size]
        first, alone = first + size, float(loglik_pooled[number])
        if number not in fitted:
            found.append(GammaPoisson(*own, float(pooled[number]), None, None, alone, alone, NO_SPREAD))
            continue
        wide_by, centre, height = fitted[number]
        note = FEW_UNITS if units.sizes[number] < 20 else None
        found.append(GammaPoisson(*own, centre, 1 / wide_by, 1 / (wide_by * centre), height, alone, note))
    return tuple(found)


class _Units:
    """Units with something due, in groups one after the other; figures are found for (groups, g) points at a time."""

    def __init__(self, seen: np.ndarray, due: np.ndarray, sizes: np.ndarray) -> None:
        self.seen, self.due, self.sizes = seen, due, sizes
        self.group = np.repeat(np.arange(len(sizes)), sizes)
        self.starts = np.cumsum(sizes) - sizes

    def of(self, groups: np.ndarray) -> "_Units":
        """Some of the groups, in this order; one may come again."""
        sizes = self.sizes[groups]
        row = np.arange(sizes.sum()) + np.repeat(self.starts[groups] - np.cumsum(sizes) + sizes, sizes)
        return _Units(self.seen[row], self.due[row], sizes)

    def summed(self, values: np.ndarray) -> np.ndarray:
        """(groups, ...) sums over the units of each group."""
        return np.add.reduceat(values, self.starts, axis=0) if len(self.starts) else values[:0]

    def poisson_loglik(self, ratio: np.ndarray) -> np.ndarray:
        """(groups,) log likelihood where all units of a group have one ratio."""
        from scipy.special import gammaln, xlogy

        expected = ratio[self.group] * self.due
        return self.summed(xlogy(self.seen, expected) - expected - gammaln(self.seen + 1.0))

    def loglik(self, mean: np.ndarray, spread: np.ndarray) -> np.ndarray:
        """(groups, g) log likelihood of negative binomial counts."""
        from scipy.special import gammaln, xlogy

        shape, seen = (1 / spread)[self.group], self.seen[:, None]
        expected = mean[self.group] * self.due[:, None]
        ways = gammaln(shape + seen) - gammaln(shape) - gammaln(seen + 1.0)
        return self.summed(ways + xlogy(seen, expected / (shape + expected)) - shape * np.log1p(expected / shape))

    def slope(self, mean: np.ndarray, spread: np.ndarray) -> np.ndarray:
        """(groups, g) derivative of it by the logarithm of the spread."""
        from scipy.special import digamma

        shape, seen = (1 / spread)[self.group], self.seen[:, None]
        expected = mean[self.group] * self.due[:, None]
        by_shape = (
            digamma(shape + seen) - digamma(shape) - np.log1p(expected / shape) + (expected - seen) / (shape + expected)
        )
        return -self.summed(shape * by_shape)


def _likeliest_spreads(units: _Units) -> np.ndarray:
    """(groups,) the relative variance with the highest likelihood; 0 where that is none."""
    found = np.zeros(len(units.sizes))
    grid = np.exp(np.broadcast_to(_GRID, (len(units.sizes), len(_GRID))))
    slope = units.slope(_likeliest_mean(units, grid), grid)
    group, place = np.nonzero((slope[:, :-1] > 0) & (slope[:, 1:] <= 0))
    if not len(group):
        return found
    tops = units.of(group)

    def slope_at(log_spread: np.ndarray) -> np.ndarray:
        spread = np.exp(log_spread)[:, None]
        return tops.slope(_likeliest_mean(tops, spread), spread)[:, 0]

    at = np.exp(roots(slope_at, _GRID[place], _GRID[place + 1]))
    height = tops.loglik(_likeliest_mean(tops, at[:, None]), at[:, None])[:, 0]
    pooled = units.poisson_loglik(units.summed(units.seen) / units.summed(units.due))
    best = pooled + _ROUNDING
    for number, one, high in zip(group.tolist(), at.tolist(), height.tolist(), strict=True):
        if high > best[number]:
            found[number], best[number] = one, high
    return found


def _likeliest_mean(units: _Units, spread: np.ndarray) -> np.ndarray:
    """
    (groups, g) the mean ratio with the highest likelihood for each relative variance.

    The slope of the likelihood falls in the mean and is convex, so that Newton's steps from the left never pass the
    top; one from the right lands on the left of it.
    """
    seen, due = units.seen[:, None], units.due[:, None]
    low = np.minimum.reduceat(units.seen / units.due, units.starts)[:, None] / 2 if len(units.starts) else spread[:0]
    mean = np.broadcast_to((units.summed(units.seen) / units.summed(units.due))[:, None], spread.shape)
    of_unit = spread[units.group]
    weight = due * (1 + of_unit * seen)
    for _ in range(_MOST):
        at = mean[units.group]
        scale = 1 + of_unit * at * due
        goal = np.maximum(mean + units.summed((seen - at * due) / scale) / units.summed(weight / scale**2), low)
        done = np.abs(goal - mean) <= 4 * np.finfo(float).eps * mean
        mean = goal
        if done.all():
            break
    return mean
