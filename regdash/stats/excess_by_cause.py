"""Observed less expected events by cause: parts that add up to the whole, because hazards of causes do."""

from dataclasses import dataclass
from functools import cached_property
from math import fsum

import numpy as np

from regdash.stats.own_and_others import OwnAndOthers
from regdash.stats.poisson import poisson_limits


@dataclass(frozen=True)
class Excess:
    """Events of one cause, or of all, beside those expected at the hazard of all others."""

    observed: int
    expected: float
    lower: float  # of observed less expected
    upper: float
    ratio: float | None  # observed over expected; None where nothing is expected
    ratio_lower: float | None
    ratio_upper: float | None
    others: int  # events of all others that the expected number comes from
    support: float  # how many events, all of one weight, would leave the expected number as uncertain as these do

    @property
    def excess(self) -> float:
        """Observed less expected."""
        return self.observed - self.expected


@dataclass(frozen=True, eq=False)
class OthersHazard:
    """The hazard of all others, by stratum, day and cause; without smoothing."""

    them: OwnAndOthers

    @cached_property
    def _span(self) -> int:
        return int(self.them.day.max(initial=0)) + 2

    def _keys(self, rows: np.ndarray) -> np.ndarray:
        return np.asarray(self.them.stratum[rows] * self._span + self.them.day[rows])

    @cached_property
    def _others(self) -> np.ndarray:
        """Stratum and day of all others, rising."""
        return np.sort(self._keys(~self.them.own))

    @cached_property
    def _events(self) -> np.ndarray:
        """Places of the others with an event, by rising stratum and day."""
        places = np.flatnonzero(~self.them.own & (self.them.cause > 0))
        return places[np.argsort(self._keys(places), kind="stable")]

    def _at_risk(self, joints: np.ndarray, key: np.ndarray) -> np.ndarray:
        """How many of some joints, by their keys, are in follow-up on each day of each stratum."""
        ends = (key // self._span + 1) * self._span
        return np.searchsorted(joints, ends) - np.searchsorted(joints, key)

    @cached_property
    def _share(self) -> np.ndarray:
        """(events,) joints of its own at risk over others at risk, at each event of the others."""
        key = self._keys(self._events)
        return self._at_risk(np.sort(self._keys(self.them.own)), key) / self._at_risk(self._others, key)

    @cached_property
    def by_joint(self) -> np.ndarray:
        """(n,) events expected of each joint over its own follow-up; beyond the others' last day nothing is known."""
        key = self._keys(self._events)
        upto = np.insert(np.cumsum(1 / self._at_risk(self._others, key)), 0, 0)
        first = np.searchsorted(key, self.them.stratum * self._span)
        return np.asarray(upto[np.searchsorted(key, self._keys(np.arange(len(self.them))), side="right")] - upto[first])

    @cached_property
    def known(self) -> np.ndarray:
        """(n,) bool: whose follow-up ends on a day on which others of its stratum are followed."""
        return self._at_risk(self._others, self._keys(np.arange(len(self.them)))) > 0

    @property
    def left_out(self) -> int:
        """Events of its own on days when no other of the stratum is followed; they are in no excess."""
        return int(np.count_nonzero(self.them.own & (self.them.cause > 0) & ~self.known))

    def excess(self, causes: int, level: float = 0.95) -> tuple[tuple[Excess, ...], Excess]:
        """
        Split observed less expected events by cause.

        Of each cause, the expected events are the sum, over the events that the others have of it, of the joints of
        its own at risk then over the others at risk, in the same stratum: the others' cumulative hazard of that cause
        over its own follow-up. Hazards of causes add up to that of all, so that the parts add up to the whole.

        Args:
            causes: how many there are, numbered from 1.
            level: of the limits, which are exact for observed events and take the expected as known; `support` says
                how well it is.

        Returns:
            Each cause's excess, and that of all together.

        Source:
            Expected events: Berry (1983), Biometrics 39:173-184, with the hazard of Nelson (1969) and Aalen (1978).
            Limits: Garwood (1936), Biometrika 28:437-442. Support: the ratio of squared mean to variance that Fay &
            Feuer (1997), Stat Med 16:791-801, take for a weighted sum of Poisson counts.

        >>> own, days, causes = [True, True, False, False], [5, 8, 4, 9], [1, 0, 2, 1]
        >>> them = OwnAndOthers(*map(np.array, (own, [0] * 4, days, causes)))
        >>> parts, whole = OthersHazard(them).excess(2)
        >>> [(part.observed, part.expected) for part in parts], whole.expected
        ([(1, 0.0), (0, 1.0)], 1.0)
        """
        mine = self.them.cause[self.them.own & self.known]
        cause, share = self.them.cause[self._events], self._share
        there = share > 0
        observed = np.bincount(mine, minlength=causes + 1)[1:].tolist()
        expected = [fsum(share[cause == number].tolist()) for number in range(1, causes + 1)]
        squares = np.bincount(cause, share**2, causes + 1)[1:].tolist()
        others = np.bincount(cause[there], minlength=causes + 1)[1:].tolist()
        parts = tuple(_excess(*each, level) for each in zip(observed, expected, squares, others, strict=True))
        return parts, _excess(sum(observed), fsum(expected), fsum(squares), sum(others), level)


def _excess(observed: int, expected: float, squares: float, others: int, level: float) -> Excess:
    lower, upper = (float(limit[0]) for limit in poisson_limits(np.array([observed]), level))
    return Excess(
        observed=observed,
        expected=expected,
        lower=lower - expected,
        upper=upper - expected,
        ratio=observed / expected if expected else None,
        ratio_lower=lower / expected if expected else None,
        ratio_upper=upper / expected if expected else None,
        others=others,
        support=expected**2 / squares if squares else 0.0,
    )
