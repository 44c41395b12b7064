"""
Cox's model once more, slowly and written differently: joint by joint and day by day, in plain Python, from the
definitions. A joint is followed from just after `start` (-1: before day 0) up to and including `stop`.
"""

from dataclasses import dataclass, replace
from math import exp, log


@dataclass(frozen=True)
class Joint:
    stop: int
    event: bool
    x: tuple[float, ...]
    start: int = -1
    stratum: int = 0
    offset: float = 0.0
    cluster: int = 0


Vector = list[float]
Matrix = list[list[float]]


@dataclass(frozen=True)
class Term:
    """One denominator: who is in it, and how much of each joint."""

    joints: list[tuple[int, float]]  # number of the joint, share of its hazard: 1, or 1 - l/d in a tie
    events: list[int]  # all with the event in this stratum on this day
    times: float
    day: int
    stratum: int


def terms_of(joints: list[Joint], ties: str) -> list[Term]:
    """Lay out Efron's d denominators, or Breslow's one that counts d times, for each stratum and day with events."""
    found = []
    for stratum, day in sorted({(joint.stratum, joint.stop) for joint in joints if joint.event}):
        at_risk = [i for i, j in enumerate(joints) if j.stratum == stratum and j.start < day <= j.stop]
        events = [i for i in at_risk if joints[i].event and joints[i].stop == day]
        for number in range(len(events)) if ties == "efron" else [0]:
            taken = number / len(events) if ties == "efron" else 0.0
            shares = [(i, 1 - taken if i in events else 1.0) for i in at_risk]
            found.append(Term(shares, events, 1.0 if ties == "efron" else float(len(events)), day, stratum))
    return found


def hazard(joint: Joint, coef: Vector) -> float:
    return exp(sum(b * x for b, x in zip(coef, joint.x, strict=True)) + joint.offset)


def denominator(joints: list[Joint], term: Term, coef: Vector) -> float:
    return sum(share * hazard(joints[i], coef) for i, share in term.joints)


def mean(joints: list[Joint], term: Term, coef: Vector) -> Vector:
    total = denominator(joints, term, coef)
    return [
        sum(share * hazard(joints[i], coef) * joints[i].x[k] for i, share in term.joints) / total
        for k in range(len(coef))
    ]


def loglik(joints: list[Joint], coef: Vector, ties: str = "efron") -> float:
    terms = terms_of(joints, ties)
    events = sum(log(hazard(joint, coef)) for joint in joints if joint.event)
    return events - sum(term.times * log(denominator(joints, term, coef)) for term in terms)


def score(joints: list[Joint], coef: Vector, ties: str = "efron") -> Vector:
    terms = terms_of(joints, ties)
    means = [mean(joints, term, coef) for term in terms]
    return [
        sum(joint.x[k] for joint in joints if joint.event)
        - sum(term.times * z[k] for term, z in zip(terms, means, strict=True))
        for k in range(len(coef))
    ]


def information(
    joints: list[Joint], coef: Vector, ties: str = "efron", weight: dict[int, float] | None = None
) -> Matrix:
    """Variance of the columns over each denominator, added up; weighted by day if asked."""
    size = len(coef)
    total = [[0.0] * size for _ in range(size)]
    for term in terms_of(joints, ties):
        z, whole = mean(joints, term, coef), denominator(joints, term, coef)
        for i, share in term.joints:
            chance = share * hazard(joints[i], coef) / whole * term.times * (weight[term.day] if weight else 1.0)
            for a in range(size):
                for b in range(size):
                    total[a][b] += chance * (joints[i].x[a] - z[a]) * (joints[i].x[b] - z[b])
    return total


def score_residuals(joints: list[Joint], coef: Vector, ties: str = "efron") -> list[Vector]:
    """How far each joint pulls the score, by its own event and by its share of every risk set."""
    size = len(coef)
    found = [[0.0] * size for _ in joints]
    for term in terms_of(joints, ties):
        z, whole = mean(joints, term, coef), denominator(joints, term, coef)
        for k in range(size):
            for i in term.events:
                found[i][k] += term.times / len(term.events) * (joints[i].x[k] - z[k])
            for i, share in term.joints:
                found[i][k] -= term.times * share * hazard(joints[i], coef) / whole * (joints[i].x[k] - z[k])
    return found


def cumulative_hazard(joints: list[Joint], coef: Vector, day: int, stratum: int = 0, ties: str = "efron") -> float:
    """Of a joint whose covariates and offset are 0, by the end of a day."""
    return sum(
        term.times / denominator(joints, term, coef)
        for term in terms_of(joints, ties)
        if term.stratum == stratum and term.day <= day
    )


def schoenfeld(joints: list[Joint], coef: Vector, weight: dict[int, float], ties: str = "efron") -> Vector:
    """Events less their means, times a weight of the day."""
    total = [0.0] * len(coef)
    for term in terms_of(joints, ties):
        z = mean(joints, term, coef)
        for k in range(len(coef)):
            own = sum(joints[i].x[k] for i in term.events) / len(term.events)
            total[k] += term.times * weight[term.day] * (own - z[k])
    return total


def split(joints: list[Joint], cuts: list[int]) -> list[tuple[Joint, int]]:
    """Cut each joint's follow-up at days; the second number is the window."""
    found = []
    for joint in joints:
        edges = [-1, *cuts, 10**9]
        for window in range(len(cuts) + 1):
            start, stop = max(joint.start, edges[window]), min(joint.stop, edges[window + 1])
            if start < stop or (window == 0 and start == -1 and stop == -1):
                ended = stop == joint.stop
                found.append((replace(joint, start=start, stop=stop, event=joint.event and ended), window))
    return found
