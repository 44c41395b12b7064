"""Two groups compared at one time: the difference and the ratio of their risks or restricted means, with limits."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, log, sqrt

import numpy as np

from regdash.stats.limits import ALL_HAD_IT, NO_FOLLOW_UP, RiskAt, z_score
from regdash.stats.step_curve import StepCurve

NONE_IN_ONE_GROUP = "one group has no event yet: its side of the limits is the exact bound for its joints at risk"
NONE_IN_EITHER = "neither group has an event yet: the limits are the exact bounds for their joints at risk"
RATIO_NEEDS_EVENTS = "a ratio needs events in both groups"
NO_SPREAD = "one group has too few joints or clusters for a standard error"


@dataclass(frozen=True)
class DifferenceAt:
    """The value of one group less that of another, by the end of a day. What is not defined is None; see the note."""

    day: int
    first: float | None
    second: float | None
    difference: float | None
    se: float | None  # None too where a group has no event: its share in the error is not known
    lower: float | None
    upper: float | None
    note: str | None = None


@dataclass(frozen=True)
class RatioAt:
    """The value of one group over that of another, by the end of a day. What is not defined is None; see the note."""

    day: int
    first: float | None
    second: float | None
    ratio: float | None
    lower: float | None
    upper: float | None
    note: str | None = None


@dataclass(frozen=True)
class Side:
    """One group's value, and how far below and above it the limits of this group alone lie."""

    value: float | None
    se: float = 0.0
    below: float | None = None
    above: float | None = None
    note: str | None = None  # why there is no value, or no limits
    none_yet: bool = False  # no event yet: se is 0, and the limits are exact bounds

    def times(self, factor: float) -> "Side":
        """The same value, multiplied by something that is known."""
        value, below, above = (None if part is None else factor * part for part in (self.value, self.below, self.above))
        return Side(value, factor * self.se, below, above, self.note, self.none_yet)


def risk_difference(
    one: StepCurve,
    other: StepCurve,
    days: Sequence[int] | np.ndarray,
    level: float = 0.95,
    covariance: Sequence[float] | np.ndarray | None = None,
) -> tuple[DifferenceAt, ...]:
    """
    Find the risk of one group less that of another at the end of each of these days.

    Args:
        one, other: curves of groups that share no joint.
        covariance: (g,) of both risks, where the groups share patients (`shared_covariance`); left out, 0.

    Returns:
        Plain limits: difference ± z × standard error. A group without an event would count as known for certain;
        its side of the limits comes from the exact bound of its risk instead, both sides combined as squares.

    Source:
        Independent variances added; the squares as Newcombe (1998), Stat Med 17:873-890, and
        Zou & Donner (2008), Stat Med 27:1693-1702. With events in both groups they give the plain limits.

    >>> from regdash.stats.kaplan_meier import kaplan_meier
    >>> one = kaplan_meier(np.array([1, 9]), np.array([30, 0]), np.array([30, 70])).steps
    >>> other = kaplan_meier(np.array([1, 9]), np.array([20, 0]), np.array([20, 80])).steps
    >>> found = risk_difference(one, other, [5])[0]
    >>> round(found.difference, 4), round(found.lower, 4), round(found.upper, 4)
    (0.1, -0.0192, 0.2192)
    """
    first, second = risk_sides(one, days, level), risk_sides(other, days, level)
    shared = np.zeros(len(first)) if covariance is None else np.asarray(covariance)
    found = zip(days, first, second, shared, strict=True)
    return tuple(side_difference(int(day), a, b, float(both)) for day, a, b, both in found)


def risk_ratio(
    one: StepCurve,
    other: StepCurve,
    days: Sequence[int] | np.ndarray,
    level: float = 0.95,
    covariance: Sequence[float] | np.ndarray | None = None,
) -> tuple[RatioAt, ...]:
    """
    Find the risk of one group over that of another at the end of each of these days.

    Args:
        as `risk_difference`.

    Source:
        Limits of the logarithm of the ratio by the delta method.
    """
    first, second = risk_sides(one, days, level), risk_sides(other, days, level)
    shared = np.zeros(len(first)) if covariance is None else np.asarray(covariance)
    found = zip(days, first, second, shared, strict=True)
    return tuple(side_ratio(int(day), a, b, level, float(both)) for day, a, b, both in found)


def risk_sides(curve: StepCurve, days: Sequence[int] | np.ndarray, level: float) -> tuple[Side, ...]:
    """Read a curve at the end of each of these days, ready to be compared."""
    z = z_score(level)
    return tuple(
        _risk_side(point, se, z) for point, se in zip(curve.at(days, level), curve.se_at(days).tolist(), strict=True)
    )


def side_difference(day: int, one: Side, other: Side, covariance: float = 0.0) -> DifferenceAt:
    """Subtract one side from another; their limits' distances are combined as squares."""
    if one.value is None or other.value is None:
        return DifferenceAt(day, one.value, other.value, None, None, None, None, one.note or other.note)
    difference = one.value - other.value
    reach = (one.below, one.above, other.below, other.above)
    if None in reach:
        note = one.note or other.note
        return DifferenceAt(day, one.value, other.value, difference, None, None, None, note)
    known = one.se > 0 and other.se > 0
    correlation = covariance / (one.se * other.se) if known else 0.0
    lower = difference - _combined(one.below, other.above, correlation)
    upper = difference + _combined(one.above, other.below, correlation)
    se = _combined(one.se, other.se, correlation) if known else None
    note = {0: None, 1: NONE_IN_ONE_GROUP, 2: NONE_IN_EITHER}[one.none_yet + other.none_yet]
    return DifferenceAt(day, one.value, other.value, difference, se, lower, upper, note)


def side_ratio(day: int, one: Side, other: Side, level: float, covariance: float = 0.0) -> RatioAt:
    """Divide one side by another; limits of the logarithm."""
    if one.value is None or other.value is None:
        return RatioAt(day, one.value, other.value, None, None, None, one.note or other.note)
    if one.value == 0 or other.value == 0 or one.none_yet or other.none_yet:
        return RatioAt(day, one.value, other.value, None, None, None, RATIO_NEEDS_EVENTS)
    ratio = one.value / other.value
    if one.below is None or other.below is None:
        return RatioAt(day, one.value, other.value, ratio, None, None, one.note or other.note)
    relative = covariance / (one.se * other.se)
    width = z_score(level) * _combined(one.se / one.value, other.se / other.value, relative)
    return RatioAt(day, one.value, other.value, ratio, exp(log(ratio) - width), exp(log(ratio) + width))


def _risk_side(point: RiskAt, se: float, z: float) -> Side:
    if point.risk is None:
        return Side(None, note=NO_FOLLOW_UP)
    if point.risk == 0:
        return Side(0.0, 0.0, 0.0, point.upper, none_yet=True)
    if point.upper is None:
        return Side(point.risk, note=ALL_HAD_IT)
    if se <= 0:
        return Side(point.risk, note=NO_SPREAD)
    return Side(point.risk, se, z * se, z * se)


def _combined(one: float | None, other: float | None, correlation: float) -> float:
    """The length of one less other, as vectors whose angle has the correlation for its cosine."""
    assert one is not None
    assert other is not None
    return sqrt(max(one**2 + other**2 - 2 * correlation * one * other, 0.0))
