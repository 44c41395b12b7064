"""Log-rank and Gray's scores once more, slowly, in exact fractions, day by day from the definitions."""

from fractions import Fraction
from itertools import product

Joint = tuple[int, int]  # last day, and how follow-up ended there
Groups = list[list[Joint]]
Matrix = list[list[Fraction]]


def log_rank(strata: list[Groups], events: set[int]) -> tuple[list[int], list[Fraction], Matrix]:
    """Observed, expected and covariance by group, added up over strata of the same groups."""
    size = len(strata[0])
    observed, expected = [0] * size, [Fraction(0)] * size
    spread = [[Fraction(0)] * size for _ in range(size)]
    for groups in strata:
        for time in sorted({day for joints in groups for day, how in joints if how in events}):
            there = [sum(day >= time for day, _ in joints) for joints in groups]
            hits = [sum(day == time and how in events for day, how in joints) for joints in groups]
            n, d = sum(there), sum(hits)
            for g in range(size):
                observed[g] += hits[g]
                expected[g] += Fraction(d * there[g], n)
                for h in range(size):
                    if n > 1:
                        share = Fraction(there[g], n) * ((g == h) - Fraction(there[h], n))
                        spread[g][h] += Fraction(d * (n - d), n - 1) * share
    return observed, expected, spread


def gray(strata: list[Groups], events: set[int], others: set[int]) -> tuple[list[Fraction], Matrix]:
    """Scores and covariance by group; what a deviation on one day changes on each later day is added up day by day."""
    size = len(strata[0])
    score, spread = [Fraction(0)] * size, [[Fraction(0)] * size for _ in range(size)]
    for groups in strata:
        times = sorted({day for joints in groups for day, how in joints if how in events | others})
        days = _days(groups, events, others, times)
        for day in days:
            score = [total + part for total, part in zip(score, _scores(day), strict=True)]
        for number, m in product(range(len(days)), range(size)):
            for weight, along in _deviations(days, number, m):
                for g, h in product(range(size), range(size)):
                    spread[g][h] += weight * along[g] * along[h]
    return score, spread


def _scores(day: "_Day") -> list[Fraction]:
    at_risk = [h * (1 - f) for h, f in zip(day.h, day.incidence, strict=True)]
    return [hits - sum(day.hits) * each / sum(at_risk) for hits, each in zip(day.hits, at_risk, strict=True)]


class _Day:
    def __init__(self) -> None:
        self.there: list[int] = []
        self.hits: list[int] = []
        self.other: list[int] = []
        self.h: list[Fraction] = []
        self.free: list[Fraction] = []  # before
        self.free_after: list[Fraction] = []
        self.incidence: list[Fraction] = []  # before
        self.total = self.common = self.common_after = Fraction(0)

    def a(self, k: int, m: int) -> Fraction:
        return self.h[m] * (k == m) - self.h[k] * self.h[m] / self.total if self.total else Fraction(0)


def _days(groups: Groups, events: set[int], others: set[int], times: list[int]) -> list[_Day]:
    found, common = [], Fraction(0)
    free, incidence = [Fraction(1)] * len(groups), [Fraction(0)] * len(groups)
    for time in times:
        day = _Day()
        day.there = [sum(last >= time for last, _ in joints) for joints in groups]
        day.hits = [sum(last == time and how in events for last, how in joints) for joints in groups]
        day.other = [sum(last == time and how in others for last, how in joints) for joints in groups]
        day.free, day.incidence, day.common = list(free), list(incidence), common
        day.h = [n / s if n else Fraction(0) for n, s in zip(day.there, free, strict=True)]
        day.total = sum(day.h, Fraction(0))
        for k, n in enumerate(day.there):
            if n:
                incidence[k] += free[k] * Fraction(day.hits[k], n)
                free[k] *= 1 - Fraction(day.hits[k] + day.other[k], n)
        common += sum(day.hits) / day.total
        day.free_after, day.common_after = list(free), common
        found.append(day)
    return found


def _deviations(days: list[_Day], number: int, m: int) -> list[tuple[Fraction, list[Fraction]]]:
    """What the events of group m on one day contribute: how much they vary, and along which scores."""
    day, size = days[number], len(days[number].h)
    n, d1, d2 = day.there[m], sum(day.hits), day.other[m]
    if not n:
        return []
    later = [
        sum(
            (
                each.a(k, m) * sum(each.hits) / each.total / (1 - each.common)
                for each in days[number + 1 :]
                if sum(each.hits) and each.common < 1
            ),
            Fraction(0),
        )
        for k in range(size)
    ]
    gone = day.free_after[m] == 0
    q = Fraction(0) if gone else (1 - day.common_after) / day.free_after[m]
    found = []
    if d1:
        room = day.total * day.free[m] - 1
        alike = max(1 - (d1 - 1) / room, Fraction(0)) if d1 > 1 else Fraction(1)
        along = [day.a(k, m) + (1 - q) * later[k] for k in range(size)]
        found.append((alike * day.free[m] * d1 / (day.total * n), along))
    if d2 and not gone:
        alike = 1 - Fraction(d2 - 1, n - 1) if d2 > 1 else Fraction(1)
        found.append((alike * day.free[m] ** 2 * Fraction(d2, n**2), [q * each for each in later]))
    return found
