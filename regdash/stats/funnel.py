"""
Funnels: how far from a target units of each size come by chance. Lines are for the eye; flags are raised by
exact probabilities.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np

from regdash.stats.limits import z_score
from regdash.stats.overdispersion import Allowance, Overdispersion
from regdash.stats.targets import Target, checked_observed, smallest_count

LEVELS = (0.95, 0.998)
NOTHING_EXPECTED = "nothing is expected of this unit"
NOMINAL = "with spread between units allowed for, the nominal share of all units"


@dataclass(frozen=True, eq=False)
class FunnelLines:
    """Prediction limits by size of unit, on the scale of count over size."""

    level: float
    lower: np.ndarray  # (m,)
    upper: np.ndarray  # (m,)


@dataclass(frozen=True)
class FunnelPoint:
    """One unit in a funnel. What is not defined is None, and the note says why."""

    observed: int
    size: float  # expected events, or joints
    value: float | None  # observed over size
    p_higher: float | None  # one-sided: so many or more, at the target
    p_lower: float | None  # so many or fewer
    side: Literal["higher", "lower"] | None  # where it lies outside the limits of a level
    beyond: float | None  # the highest level whose limits it lies outside
    note: str | None = None


@dataclass(frozen=True)
class FalseFlags:
    """How many units would be flagged by chance, were all of them at the target."""

    level: float
    higher: float
    lower: float
    note: str | None = None


@dataclass(frozen=True)
class Spread:
    """Spread between units beyond chance, and the way it is allowed for."""

    between: Overdispersion
    allowance: Allowance

    @property
    def is_more(self) -> bool:
        """Whether there is more of it than chance's own; otherwise nothing is widened."""
        return self.between.phi > 1 if self.allowance == "multiplicative" else self.between.tau_squared > 0


def funnel_lines(target: Target, level: float = 0.95, spread: Spread | None = None) -> FunnelLines:
    """
    Find the limits between which a unit's value lies with the level's probability, smoothed for drawing.

    They depend on the target and the sizes alone, never on what was observed. Counts are whole, so that exact
    limits jump; these go between the jumps, and flags are not raised by them. Spread between units widens them
    and never narrows them.

    Args:
        target: of sizes to draw at, each above 0.
        level: such as 0.95 and 0.998; each tail has half of the rest.

    Raises:
        ValueError: a size of 0.

    Source:
        Spiegelhalter (2005), Stat Med 24:1185-1202, appendix: (r - share of r's probability beyond the tail) / size.

    >>> from regdash.stats.targets import PoissonTarget
    >>> lines = funnel_lines(PoissonTarget(np.array([10.0])))
    >>> lines.lower.round(4).tolist(), lines.upper.round(4).tolist()
    ([0.3775], [1.616])
    """
    z = z_score(level)
    if np.any(target.size <= 0):
        raise ValueError("Limits of a funnel are drawn at sizes above 0.")
    lower, upper = (_between_counts(target, p) for p in ((1 - level) / 2, (1 + level) / 2))
    if spread is not None and spread.is_more:
        wide = _widened(target, (lower, upper), z, spread)
        lower, upper = np.minimum(lower, wide[0]), np.maximum(upper, wide[1])
    return FunnelLines(level, np.maximum(lower, 0), np.minimum(upper, target.most / target.size))


def funnel_points(
    target: Target, observed: np.ndarray, levels: tuple[float, ...] = LEVELS, spread: Spread | None = None
) -> tuple[FunnelPoint, ...]:
    """
    Place units in a funnel, and flag those in a tail that has half of what a level leaves, or less.

    With spread allowed for, a tail's probability is the normal one of the widened z, or the exact one where that
    is larger: whoever is flagged then would be without it too.

    Args:
        target: what is expected of each unit.
        observed: (m,) int.

    Raises:
        CountError: not one count for each unit.

    >>> from regdash.stats.targets import PoissonTarget
    >>> [point] = funnel_points(PoissonTarget(np.array([10.0])), np.array([18]))
    >>> round(point.p_higher, 4), point.side, point.beyond
    (0.0143, 'higher', 0.95)
    """
    for level in levels:
        z_score(level)  # refuses a level that is none
    observed = checked_observed(target, observed)
    higher, lower = target.at_least(observed), target.at_most(observed)
    if spread is not None and spread.is_more:
        from scipy.special import ndtr

        z = spread.between.z(target, observed, spread.allowance)
        higher, lower = np.maximum(higher, ndtr(-z)), np.maximum(lower, ndtr(z))
    rows = zip(observed.tolist(), target.size.tolist(), higher.tolist(), lower.tolist(), strict=True)
    return tuple(_point(*row, levels) for row in rows)


def expected_false_flags(target: Target, level: float = 0.95, spread: Spread | None = None) -> FalseFlags:
    """
    Add up each unit's probability of being flagged though it is at the target.

    Counts are whole, so that this is less than the level's share of all units, and less for small ones.

    >>> from regdash.stats.targets import PoissonTarget
    >>> flags = expected_false_flags(PoissonTarget(np.full(100, 10.0)))
    >>> round(flags.higher, 2), round(flags.lower, 2)
    (1.43, 1.03)
    """
    z_score(level)  # refuses a level that is none
    tail, shown = (1 - level) / 2, target.size > 0
    if spread is not None and spread.is_more:
        return FalseFlags(level, tail * int(shown.sum()), tail * int(shown.sum()), NOMINAL)
    first_high = smallest_count(target, 1 - tail) + 1
    first_high += target.at_least(first_high) > tail  # where 1 - tail was rounded down
    last_low = smallest_count(target, tail)
    last_low -= target.at_most(last_low) > tail
    higher, lower = target.at_least(first_high), target.at_most(last_low)
    return FalseFlags(level, float(higher[shown].sum()), float(lower[shown].sum()))


def _between_counts(target: Target, probability: float) -> np.ndarray:
    count = smallest_count(target, probability)
    return (count - (target.at_most(count) - probability) / target.exactly(count)) / target.size


def _widened(
    target: Target, lines: tuple[np.ndarray, np.ndarray], z: float, spread: Spread
) -> tuple[np.ndarray, np.ndarray]:
    deviation = spread.between.deviations(target, spread.allowance)
    if spread.allowance == "multiplicative":
        lower, upper = (target.centre + (line - target.centre) * deviation / target.deviation for line in lines)
        return lower, upper
    centre = target.stabilised(np.array(target.centre))
    return target.back(centre - z * deviation), target.back(centre + z * deviation)


def _point(observed: int, size: float, higher: float, lower: float, levels: tuple[float, ...]) -> FunnelPoint:
    if size == 0:
        return FunnelPoint(observed, size, None, None, None, None, None, NOTHING_EXPECTED)
    beyond = max((level for level in levels if min(higher, lower) <= (1 - level) / 2), default=None)
    side: Literal["higher", "lower"] = "higher" if higher < lower else "lower"
    return FunnelPoint(observed, size, observed / size, higher, lower, side if beyond else None, beyond)
