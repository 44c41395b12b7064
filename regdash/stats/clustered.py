"""Standard errors where the joints of one patient (or surgeon, or hospital) are not independent."""

from collections.abc import Callable

import numpy as np

from regdash.errors import CountError
from regdash.stats.aalen_johansen import CumulativeIncidence
from regdash.stats.clusters import JointPairs, JointRows
from regdash.stats.influence import Followed, Influence, incidence_influence, net_influence
from regdash.stats.kaplan_meier import NetRisk
from regdash.stats.step_curve import StepCurve

Moving = Callable[[Followed], np.ndarray]  # (r,) or (r, g): how each joint moves a figure, or several


def clustered_net_risk(net: NetRisk, joints: JointRows | JointPairs) -> StepCurve:
    """
    Give a net risk the standard error that holds where joints of one cluster resemble each other.

    Both forms of `joints` give the same digits; without a cluster of two they give Greenwood's, unless joints enter
    on different days. One cluster alone tells nothing about its like, and has standard error 0.

    Args:
        joints: all joints that the risk was estimated from; or all pairs among them of one cluster.

    Raises:
        CountError: events or joints that the risk was not estimated from; pairs where joints enter on different days.

    Source:
        Infinitesimal jackknife with influences added up by cluster, as R's survfit with cluster.

    >>> from regdash.stats.kaplan_meier import kaplan_meier
    >>> net = kaplan_meier(np.array([1, 9]), np.array([2, 0]), np.array([2, 6]))
    >>> alike = JointPairs(np.array([[1, 1], [9, 9]]), np.array([[1, 1], [0, 0]]), np.array([1, 3]))
    >>> # of 8 joints that are independent, and of 4 patients
    >>> [round(float(se[0] ** 2), 4) for se in (net.se, clustered_net_risk(net, alike).se)]
    [0.0234, 0.0469]
    """
    se = np.sqrt(_variance(net_influence(net), net.se.filled(0) ** 2, joints))
    return StepCurve(net.days, net.revised, net.risk, np.where(net.se.mask, 0, se), net.followed)


def clustered_incidence(found: CumulativeIncidence, cause: int, joints: JointRows | JointPairs) -> StepCurve:
    """
    Give the incidence of one cause the standard error that holds where joints of one cluster resemble each other.

    Args:
        cause: its number, from 0; joints: as `clustered_net_risk`.
    """
    curve, hit = found.of(cause), found.events[:, cause] > 0
    variance = _variance(incidence_influence(found, cause), found.variance[:, cause], joints)
    return StepCurve(curve.days, curve.events, curve.risk, np.sqrt(variance[hit]), curve.followed)


def shared_covariance(one: Moving, other: Moving, joints: tuple[JointRows, JointRows] | JointPairs) -> np.ndarray:
    """
    Find the covariance of the figures of two groups that comes from patients with a joint in each.

    Args:
        one, other: how joints of each group move its figures: `Influence.by` some days, or `mean_influence`.
        joints: all joints of each group, clusters numbered alike; or the pairs with the first joint in one group
            and the second in the other.

    Returns:
        (g,) one for each figure, for `risk_difference` and its like.
    """
    if isinstance(joints, JointPairs):
        first, second = one(joints.followed(0)), other(joints.followed(1))
        return np.atleast_1d(joints.pairs @ (first * second))
    labels, number = np.unique(np.concatenate([rows.cluster for rows in joints]), return_inverse=True)
    own = np.split(number, [len(joints[0].cluster)])
    sums = [
        _by_cluster(moving(rows.followed()), of, len(labels)) for moving, rows, of in zip((one, other), joints, own)
    ]
    return (sums[0] * sums[1]).sum(axis=0)


def clustered_square(variance: float, moving: Moving, joints: JointRows | JointPairs) -> float:
    """
    Turn the variance of one figure, of independent joints, into that of clusters.

    Args:
        moving: gives (r,) influences of joints on the figure.
    """
    if isinstance(joints, JointPairs):
        first, second = moving(joints.followed(0)), moving(joints.followed(1))
        return float(max(variance + 2 * joints.pairs @ (first * second), 0))
    labels, number = np.unique(joints.cluster, return_inverse=True)
    return float(np.sum(_by_cluster(moving(joints.followed()), number, len(labels)) ** 2))


def refuse_others(influence: Influence, joints: JointRows | JointPairs) -> None:
    """
    Refuse joints that cannot be those that a risk was estimated from.

    Raises:
        CountError: rows that do not make the counts; pairs with an event that was not counted, or where joints
            enter on different days.
    """
    if isinstance(joints, JointPairs):
        if np.any(np.diff(influence.at_risk) > 0):
            raise CountError("Joints enter on different days. Pairs cannot tell that: list the joints one by one.")
        influence.leaving(_joined(joints.followed(0), joints.followed(1)))  # refuses an unknown event
        return
    followed = joints.followed()
    gone, come = (
        np.bincount(np.searchsorted(influence.days, days, side="right"), minlength=len(influence.days) + 1)
        for days in (followed.day, followed.entered)
    )
    at_risk = np.cumsum((gone - come)[::-1])[::-1][1:]
    events = np.bincount(np.searchsorted(influence.days, followed.day[followed.cause > 0]), minlength=len(at_risk))
    if not np.array_equal(at_risk, influence.at_risk) or not np.array_equal(events, influence.events.sum(axis=1)):
        raise CountError(
            f"The {len(joints.day):,} joints listed by cluster are not those counted. Count and list the same joints."
        )


def _variance(influence: Influence, independent: np.ndarray, joints: JointRows | JointPairs) -> np.ndarray:
    """(k,) by the end of each day with an event; `independent` is that of joints on their own."""
    refuse_others(influence, joints)
    if isinstance(joints, JointRows):
        number = np.unique(joints.cluster, return_inverse=True)[1]
        return np.maximum(_squares(influence, joints.followed(), number, None), 0)
    every, weight = np.arange(len(joints.pairs)), joints.pairs.astype(float)
    both = _joined(joints.followed(0), joints.followed(1))
    # (u + v)² - u² - v² is what a pair adds to two joints on their own.
    together = _squares(influence, both, np.concatenate([every, every]), weight)
    apart = _squares(influence, both, np.arange(2 * len(every)), np.concatenate([weight, weight]))
    return np.maximum(independent + together - apart, 0)


def _squares(influence: Influence, joints: Followed, cluster: np.ndarray, weight: np.ndarray | None) -> np.ndarray:
    """
    (k,) squares of the clusters' summed influences, times weight, added up; for all days at once.

    A cluster's influence is m (F G - D) + a - F b, and its m, a and b change only where one of its joints enters
    or leaves. The sums of m², a², b² and their products over clusters are therefore running sums of such changes.
    """
    moves = (influence.entering(joints), influence.leaving(joints))
    place = np.concatenate([each.place for each in moves])
    whose = np.concatenate([cluster, cluster])
    order = np.argsort(whose * (len(influence.days) + 1) + place, kind="stable")
    whose, place = whose[order], place[order]
    first = np.maximum.accumulate(np.where(np.diff(whose, prepend=-1) > 0, np.arange(len(whose)), 0))
    m, a, b = (
        _within(np.concatenate([getattr(each, name) for each in moves])[order], first) for name in ("m", "a", "b")
    )
    scale = np.ones(len(whose)) if weight is None else weight[whose]
    size = len(influence.days) + 1

    def over_clusters(one: tuple[np.ndarray, np.ndarray], other: tuple[np.ndarray, np.ndarray]) -> np.ndarray:
        change = one[1] * other[1] - one[0] * other[0]
        return np.cumsum(np.bincount(place, scale * change, size))

    f = influence.risk
    still = f * influence.growth - influence.held
    squares = still**2 * over_clusters(m, m) + over_clusters(a, a) + f**2 * over_clusters(b, b)
    cross = still * over_clusters(m, a) - still * f * over_clusters(m, b) - f * over_clusters(a, b)
    return (squares + 2 * cross)[1:]


def _within(change: np.ndarray, first: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """A cluster's running sum before and after each of its changes; `first` is where its rows begin."""
    running = np.insert(np.cumsum(change), 0, 0)
    start = running[first]
    return running[:-1] - start, running[1:] - start


def _joined(one: Followed, other: Followed) -> Followed:
    return Followed(*(np.concatenate([getattr(one, f), getattr(other, f)]) for f in ("day", "cause", "entered")))


def _by_cluster(values: np.ndarray, cluster: np.ndarray, size: int) -> np.ndarray:
    """(clusters, g) sums of (r,) or (r, g) values."""
    columns = values.reshape(len(values), -1).T
    return np.stack([np.bincount(cluster, column, size) for column in columns], axis=1)
