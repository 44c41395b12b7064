"""Shrinkage of estimated ratios, such as adjusted hazard ratios: true logarithms and errors alike as normal."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, log, sqrt
from statistics import NormalDist

import numpy as np

from regdash.errors import CountError, ModelError
from regdash.stats.chi_square import ChiSquareTest, chi_square_test
from regdash.stats.limits import z_score
from regdash.stats.roots import tops
from regdash.stats.shrinkage import FEW_UNITS, NO_SPREAD, ShrunkRatio

_LARGEST = 700.0  # logarithm of the largest ratio that a number can hold
NO_RATIO = "the unit has no ratio of its own to shrink"


@dataclass(frozen=True)
class NormalShrinkage:
    """The distribution of true log ratios between units, at its highest restricted likelihood."""

    log_ratio: tuple[float | None, ...]
    se: tuple[float | None, ...]
    mean: float  # of the true log ratios
    mean_se: float
    tau_squared: float  # their variance
    test: ChiSquareTest | None  # of no variance; None: one unit
    note: str | None = None

    def ratios(self, above: float, level: float = 0.95) -> tuple[ShrunkRatio, ...]:
        """
        Give each unit's posterior: median, limits and the probability of a true ratio above a stated one.

        The mean of all is uncertain too, and their limits say so; that the variance is, they do not.

        Args:
            above: a ratio, such as 1.5.
            level: each tail has half of the rest.

        Raises:
            ValueError: a ratio or a level that is none.
        """
        z = z_score(level)
        if not 0 < above < float("inf"):
            raise ValueError(f"A ratio is above 0; {above} is not.")
        return tuple(self._shrunk(y, se, log(above), z) for y, se in zip(self.log_ratio, self.se, strict=True))

    def _shrunk(self, y: float | None, se: float | None, above: float, z: float) -> ShrunkRatio:
        if y is None or se is None:
            return ShrunkRatio(None, None, None, None, None, NO_RATIO)
        towards = se**2 / (se**2 + self.tau_squared)
        middle = towards * self.mean + (1 - towards) * y
        error = sqrt(towards * self.tau_squared + (towards * self.mean_se) ** 2)
        probability = NormalDist().cdf((middle - above) / error)
        upper = middle + z * error
        note = self.note if upper < _LARGEST else "no upper limit can be stated"
        return ShrunkRatio(
            exp(y), exp(middle), exp(middle - z * error), exp(upper) if upper < _LARGEST else None, probability, note
        )


def normal_shrinkage(log_ratio: Sequence[float | None], se: Sequence[float | None]) -> NormalShrinkage:
    """
    Estimate how much true log ratios differ between units.

    Args:
        log_ratio: (k,) estimates; None for a unit that has none.
        se: (k,) their standard errors, above 0; None with an estimate that is None.

    Raises:
        CountError: unequal lengths, or an estimate or error that is broken.
        ModelError: no estimates.

    Source:
        Morris (1983), JASA 78:47-55, the mean with a flat prior; variance by restricted maximum likelihood,
        Patterson & Thompson (1971), Biometrika 58:545-554.

    >>> fit = normal_shrinkage([0.0, 0.1, 0.9], [0.1, 0.2, 0.2])
    >>> round(fit.tau_squared, 4), [round(one.ratio, 2) for one in fit.ratios(above=1.5)]
    (0.2077, [1.01, 1.14, 2.24])
    """
    if len(log_ratio) != len(se):
        raise CountError(f"Estimates and errors must be of one length, but are {len(log_ratio)} and {len(se)}.")
    pairs = [(y, error) for y, error in zip(log_ratio, se, strict=True) if y is not None and error is not None]
    y, variance = np.array([one for one, _ in pairs]), np.array([error for _, error in pairs]) ** 2
    if not (np.all(np.abs(y) < _LARGEST) and np.all((variance > 0) & (variance < np.inf))):
        raise CountError("A log ratio must be one of a finite ratio, and its standard error finite and above 0.")
    if not len(y):
        raise ModelError("No unit has an estimate, so that there is no ratio to shrink.")
    tau_squared = _likeliest_variance(y, variance) if len(y) > 1 else 0.0
    weight = 1 / (variance + tau_squared)
    mean, mean_se = float(weight @ y / weight.sum()), float(1 / np.sqrt(weight.sum()))
    note = NO_SPREAD if tau_squared == 0 else FEW_UNITS if len(y) < 20 else None
    return NormalShrinkage(tuple(log_ratio), tuple(se), mean, mean_se, tau_squared, _test(y, variance), note)


def _likeliest_variance(y: np.ndarray, variance: np.ndarray) -> float:
    """The variance between units with the highest restricted likelihood; 0 where that is none."""
    scale = np.ptp(y) ** 2 + variance.max()
    found = tops(lambda tau: _slope(y, variance, tau), scale * np.append(0.0, np.geomspace(1e-8, 10, 73)))
    candidates = np.append(0.0, found)
    return float(candidates[np.argmax(_height(y, variance, candidates))])


def _height(y: np.ndarray, variance: np.ndarray, tau_squared: np.ndarray) -> np.ndarray:
    """(g,) restricted log likelihood, but for a constant."""
    weight = 1 / (variance + tau_squared[:, None])
    total = weight.sum(axis=1)
    distance = y - (weight @ y / total)[:, None]
    return (np.log(weight).sum(axis=1) - np.log(total) - (weight * distance**2).sum(axis=1)) / 2


def _slope(y: np.ndarray, variance: np.ndarray, tau_squared: np.ndarray) -> np.ndarray:
    """(g,) its derivative."""
    weight = 1 / (variance + tau_squared[:, None])
    total = weight.sum(axis=1)
    distance = y - (weight @ y / total)[:, None]
    square = weight**2
    return ((square * distance**2).sum(axis=1) + square.sum(axis=1) / total - total) / 2


def _test(y: np.ndarray, variance: np.ndarray) -> ChiSquareTest | None:
    if len(y) < 2:
        return None
    mean = (y / variance).sum() / (1 / variance).sum()
    return chi_square_test(float(((y - mean) ** 2 / variance).sum()), len(y) - 1)
