"""What a unit's count would be, were it at the target: the distributions that funnels and their flags go by."""

from dataclasses import dataclass
from math import asin
from typing import Protocol

import numpy as np

from regdash.errors import CountError
from regdash.stats.counts import amounts, whole_numbers


class Target(Protocol):
    """The distribution of each unit's count at the target, (m,) units; counts may be (m,) or one for all."""

    @property
    def size(self) -> np.ndarray:
        """(m,) what a count is divided by: expected events, or joints. Where it is 0, nothing is defined."""

    @property
    def centre(self) -> float:
        """The target itself, on the scale of count over size."""

    @property
    def most(self) -> np.ndarray:
        """(m,) a count that is practically or truly never exceeded."""

    def at_most(self, count: np.ndarray) -> np.ndarray:
        """(m,) probability of that many or fewer."""

    def at_least(self, count: np.ndarray) -> np.ndarray:
        """(m,) probability of that many or more, in its own digits where it is small."""

    def exactly(self, count: np.ndarray) -> np.ndarray:
        """(m,) probability of that many."""

    def stabilised(self, value: np.ndarray) -> np.ndarray:
        """(m,) count over size on a scale on which its standard deviation is about `deviation` everywhere."""

    def back(self, stabilised: np.ndarray) -> np.ndarray:
        """(m,) the way back; a point beyond the scale's end is taken as its end."""

    @property
    def deviation(self) -> np.ndarray:
        """(m,) that standard deviation."""


@dataclass(frozen=True, eq=False)
class PoissonTarget:
    """
    Events as a Poisson count around the expected; values are observed over expected, and the target is 1.

    Raises:
        CountError: a negative or broken number.
    """

    expected: np.ndarray  # (m,) float64, events expected of each unit
    centre: float = 1.0

    def __post_init__(self) -> None:
        object.__setattr__(self, "expected", amounts("expected events", self.expected))

    @property
    def size(self) -> np.ndarray:
        """(m,) expected events."""
        return self.expected

    @property
    def most(self) -> np.ndarray:
        """(m,) 40 standard deviations above the mean, and more."""
        return np.ceil(self.expected + 40 * np.sqrt(self.expected) + 1000)

    def at_most(self, count: np.ndarray) -> np.ndarray:
        """(m,) as `Target.at_most`."""
        from scipy.special import gammaincc

        return np.where(count < 0, 0.0, gammaincc(np.maximum(count, 0) + 1, self.expected))

    def at_least(self, count: np.ndarray) -> np.ndarray:
        """(m,) as `Target.at_least`."""
        from scipy.special import gammainc

        return np.where(count <= 0, 1.0, gammainc(np.maximum(count, 1), self.expected))

    def exactly(self, count: np.ndarray) -> np.ndarray:
        """(m,) as `Target.exactly`."""
        from scipy.special import gammaln, xlogy

        return np.exp(xlogy(count, self.expected) - self.expected - gammaln(np.asarray(count) + 1.0))

    def stabilised(self, value: np.ndarray) -> np.ndarray:
        """(m,) its square root."""
        return np.sqrt(value)

    def back(self, stabilised: np.ndarray) -> np.ndarray:
        """(m,) its square."""
        return np.maximum(stabilised, 0) ** 2

    @property
    def deviation(self) -> np.ndarray:
        """(m,) that of the square root of observed over expected."""
        return _half_over_root(self.expected)


@dataclass(frozen=True, eq=False)
class BinomialTarget:
    """
    Joints with the event, of those whose outcome is known for all; values are proportions.

    Raises:
        CountError: a negative or broken number.
        ValueError: a target that is not between 0 and 1.
    """

    joints: np.ndarray  # (m,) int64
    centre: float  # the target proportion

    def __post_init__(self) -> None:
        object.__setattr__(self, "joints", whole_numbers("joints", self.joints))
        if not 0 < self.centre < 1:
            raise ValueError(f"A target proportion lies between 0 and 1; {self.centre} does not.")

    @property
    def size(self) -> np.ndarray:
        """(m,) joints."""
        return self.joints.astype(float)

    @property
    def most(self) -> np.ndarray:
        """(m,) all of them."""
        return self.joints.astype(float)

    def at_most(self, count: np.ndarray) -> np.ndarray:
        """(m,) as `Target.at_most`."""
        from scipy.special import betaincc

        inside = np.clip(count, 0, np.maximum(self.joints - 1, 0))
        found = betaincc(inside + 1, np.maximum(self.joints - inside, 1), self.centre)
        return np.where(count < 0, 0.0, np.where(count >= self.joints, 1.0, found))

    def at_least(self, count: np.ndarray) -> np.ndarray:
        """(m,) as `Target.at_least`."""
        from scipy.special import betainc

        inside = np.clip(count, 1, np.maximum(self.joints, 1))
        found = betainc(inside, self.joints - inside + 1, self.centre)
        return np.where(count <= 0, 1.0, np.where(count > self.joints, 0.0, found))

    def exactly(self, count: np.ndarray) -> np.ndarray:
        """(m,) as `Target.exactly`."""
        from scipy.special import gammaln, xlog1py, xlogy

        ways = gammaln(self.joints + 1.0) - gammaln(count + 1.0) - gammaln(self.joints - count + 1.0)
        return np.exp(ways + xlogy(count, self.centre) + xlog1py(self.joints - count, -self.centre))

    def stabilised(self, value: np.ndarray) -> np.ndarray:
        """(m,) the arc sine of its square root."""
        return np.arcsin(np.sqrt(value))

    def back(self, stabilised: np.ndarray) -> np.ndarray:
        """(m,) the square of its sine."""
        return np.sin(np.clip(stabilised, 0, asin(1))) ** 2

    @property
    def deviation(self) -> np.ndarray:
        """(m,) that of the arc sine of the square root of a proportion."""
        return _half_over_root(self.size)


def smallest_count(target: Target, probability: float) -> np.ndarray:
    """
    Find the smallest count that is not exceeded with at least this probability.

    >>> smallest_count(PoissonTarget(np.array([10.0])), 0.975).tolist()
    [17.0]
    """
    low, high = np.full(len(target.size), -1.0), target.most
    while np.any(high - low > 1):
        middle = np.floor((low + high) / 2)
        enough = target.at_most(middle) >= probability
        low, high = np.where(enough, low, middle), np.where(enough, middle, high)
    return high


def checked_observed(target: Target, observed: np.ndarray) -> np.ndarray:
    """
    Read one observed count for each unit as int64.

    Raises:
        CountError: not one for each unit, a negative number, or more than the unit's joints.
    """
    observed = whole_numbers("observed events", observed)
    if len(observed) != len(target.size):
        raise CountError(f"{len(target.size)} units need one observed count each, but there are {len(observed)}.")
    if isinstance(target, BinomialTarget) and np.any(observed > target.joints):
        first = int(np.flatnonzero(observed > target.joints)[0])
        raise CountError(f"{observed[first]} events cannot come from {target.joints[first]} joints.")
    return observed


def _half_over_root(size: np.ndarray) -> np.ndarray:
    return np.divide(0.5, np.sqrt(size), out=np.full(len(size), np.inf), where=size > 0)
