"""
How far one joint moves a figure, by moving its weight and estimating again. No formula for an influence or a variance
is used, only weighted estimates, joint by joint: a weight gets a tiny imaginary part, and the figure's imaginary part,
divided by it, is the derivative without any difference being taken (Squire & Trapp 1998, SIAM Rev 40:110-112).
"""

from collections.abc import Callable

Joint = tuple[int, int, int]  # follow-up begins after this day (-1: before day 0), ends on this, and how
Figure = Callable[[list[Joint], list[complex]], complex]

_STEP = 1e-50


def incidence(cause: set[int], causes: set[int], day: int) -> Figure:
    """Aalen & Johansen's estimate for some of the causes, each joint counted by its weight."""

    def estimate(joints: list[Joint], weights: list[complex]) -> complex:
        free, total = complex(1), complex(0)
        for time in sorted({stop for _, stop, how in joints if stop <= day and how in causes}):
            there = sum(w for (start, stop, _), w in zip(joints, weights, strict=True) if start < time <= stop)
            hits = [(how, w) for (_, stop, how), w in zip(joints, weights, strict=True) if stop == time]
            total += free * sum(w for how, w in hits if how in cause) / there
            free *= 1 - sum(w for how, w in hits if how in causes) / there
        return total

    return estimate


def area(causes: set[int], end: int) -> Figure:
    """The days up to the end of a span, each counted by the proportion still free after the day before."""

    def estimate(joints: list[Joint], weights: list[complex]) -> complex:
        return sum((1 - incidence(causes, causes, day)(joints, weights) for day in range(end)), complex(0))

    return estimate


def influences(figure: Figure, joints: list[Joint]) -> list[float]:
    """The derivative of a figure by each joint's weight."""
    found: dict[Joint, float] = {}
    for number, joint in enumerate(joints):
        if joint not in found:
            weights = [complex(1)] * len(joints)
            weights[number] += complex(0, _STEP)
            found[joint] = figure(joints, weights).imag / _STEP
    return [found[joint] for joint in joints]


def covariance(one: list[float], other: list[float], clusters: list[int] | None = None) -> float:
    """The infinitesimal jackknife: influences added up by cluster, multiplied, added up."""
    clusters = list(range(len(one))) if clusters is None else clusters
    total = 0.0
    for own in set(clusters):
        within = [number for number, cluster in enumerate(clusters) if cluster == own]
        total += sum(one[n] for n in within) * sum(other[n] for n in within)
    return total
