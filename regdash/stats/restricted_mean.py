"""Mean time unrevised within a stated span, and how two groups differ in it."""

from dataclasses import dataclass

import numpy as np

from regdash.errors import ModelError
from regdash.stats.clustered import Moving, clustered_square, refuse_others
from regdash.stats.clusters import JointPairs, JointRows
from regdash.stats.difference import NO_SPREAD, DifferenceAt, RatioAt, Side, side_difference, side_ratio
from regdash.stats.influence import Followed, net_influence
from regdash.stats.kaplan_meier import NetRisk
from regdash.stats.limits import NO_FOLLOW_UP, risk_limits, z_score

NONE_YET = "no event yet: the lower limit follows from the one-sided exact bound for the joints at risk"


@dataclass(frozen=True)
class RestrictedMean:
    """Mean days unrevised within the first days. What is not defined is None, and the note says why."""

    day: int  # the end of the span
    at_risk: int  # joints whose follow-up reaches it
    events: int  # joints revised by its end
    mean: float | None  # 0 to day
    se: float | None  # None too where nobody is revised
    lower: float | None
    upper: float | None
    note: str | None = None


def restricted_mean(
    net: NetRisk, day: int, level: float = 0.95, joints: JointRows | JointPairs | None = None
) -> RestrictedMean:
    """
    Find the area under the proportion not revised, from day 0 to the end of a span, had nobody died.

    Choose the span before looking at the curves. It must be reached by somebody's follow-up.

    Args:
        joints: for a standard error by cluster, as `clustered_net_risk`.

    Returns:
        Plain limits within 0 and the span. Before any revision the mean is the span itself; its lower limit then
        follows from the exact bound of the risk at the end, which the risk cannot pass earlier.

    Raises:
        ValueError: a span below one day.
        CountError: joints that the risk was not estimated from.

    Source:
        Irwin (1949), J Hyg 47:188-189; Karrison (1987), JASA 82:1169-1176. No correction m / (m - 1).

    >>> from regdash.stats.kaplan_meier import kaplan_meier
    >>> found = restricted_mean(kaplan_meier(np.array([4, 10]), np.array([1, 0]), np.array([1, 3])), 10)
    >>> found.mean, round(found.se, 4)  # 1 of 4 lost 6 of 10 days
    (8.5, 1.299)
    """
    if day < 1:
        raise ValueError(f"A span is at least one day long, not {day}.")
    z = z_score(level)
    (point,) = net.at([day], level)
    known = (day, point.at_risk, point.events)
    if point.risk is None:
        return RestrictedMean(*known, None, None, None, None, NO_FOLLOW_UP)
    before = net.days < day
    if not before.any():
        _, bound = risk_limits(np.zeros(1), np.zeros(1), np.array([point.at_risk]), level)
        return RestrictedMean(*known, float(day), None, day * float(1 - bound[0]), float(day), NONE_YET)
    mean, variance, moving = _area(net, before, day)
    if joints is not None:
        refuse_others(net_influence(net), joints)
        variance = clustered_square(variance, moving, joints)
    se = float(np.sqrt(variance))
    return RestrictedMean(*known, mean, se, max(mean - z * se, 0.0), min(mean + z * se, float(day)))


def mean_difference(
    one: RestrictedMean, other: RestrictedMean, level: float = 0.95, covariance: float = 0.0
) -> DifferenceAt:
    """
    Find the restricted mean of one group less that of another, in days; limits and covariance as `risk_difference`.

    Raises:
        ModelError: means over different spans.
    """
    return side_difference(one.day, *_sides(one, other, level), covariance)


def mean_ratio(one: RestrictedMean, other: RestrictedMean, level: float = 0.95, covariance: float = 0.0) -> RatioAt:
    """
    Find the restricted mean of one group over that of another; limits of its logarithm by the delta method.

    Raises:
        ModelError: means over different spans.
    """
    return side_ratio(one.day, *_sides(one, other, level), level, covariance)


def mean_influence(net: NetRisk, day: int) -> Moving:
    """Give how joints move a restricted mean, for `shared_covariance`."""
    return _area(net, net.days < day, day)[2]


@dataclass(frozen=True, eq=False)
class _Moving:
    """How joints move a restricted mean."""

    days: np.ndarray  # (k,) days with a revision, before the end of the span
    end: int
    by_event: np.ndarray  # (k,) area still to come, over n - d
    hazard: np.ndarray  # (k,) d / n

    def __call__(self, joints: Followed) -> np.ndarray:
        running = np.insert(np.cumsum(self.by_event * self.hazard), 0, 0)
        first, last = (np.searchsorted(self.days, on, side="right") for on in (joints.entered, joints.day))
        values = running[last] - running[first]
        hit = (joints.cause > 0) & (joints.day < self.end)
        values[hit] -= self.by_event[last[hit] - 1]
        return values


def _sides(one: RestrictedMean, other: RestrictedMean, level: float) -> tuple[Side, Side]:
    if one.day != other.day:
        raise ModelError(f"Means over {one.day:,} and over {other.day:,} days cannot be compared. Choose one span.")
    return _side(one, z_score(level)), _side(other, z_score(level))


def _side(found: RestrictedMean, z: float) -> Side:
    if found.mean is None:
        return Side(None, note=found.note)
    if found.se is None:
        assert found.lower is not None
        return Side(found.mean, 0.0, found.mean - found.lower, 0.0, none_yet=True)
    if found.se == 0:
        return Side(found.mean, note=NO_SPREAD)
    return Side(found.mean, found.se, z * found.se, z * found.se)


def _area(net: NetRisk, before: np.ndarray, end: int) -> tuple[float, float, _Moving]:
    """The area, its variance for independent joints, and how joints move it."""
    days, d, n, free = net.days[before], net.revised[before], net.at_risk[before], 1 - net.risk[before]
    areas = np.insert(free, 0, 1) * np.diff(np.concatenate([[0], days, [end]]))
    to_come = np.cumsum(areas[::-1])[::-1][1:]
    by_event = np.where(n > d, to_come / np.maximum(n - d, 1), 0)  # where all are revised nothing is to come
    return float(areas.sum()), float(np.sum(to_come * by_event * d / n)), _Moving(days, end, by_event, d / n)
