"""Revisions per 100 implant-years, and the ratio of two such rates, with exact limits or those of mid-p."""

from dataclasses import dataclass

import numpy as np

from regdash.stats.counts import whole_numbers
from regdash.stats.limits import z_score
from regdash.stats.mid_p import mid_p_odds_limits, mid_p_poisson_limits


@dataclass(frozen=True)
class RevisionRate:
    """Revisions per 100 implant-years. What is not defined is None, and the note says why."""

    revised: int
    years: float  # implant-years in follow-up
    per_100_years: float | None
    lower: float | None
    upper: float | None
    note: str | None = None


@dataclass(frozen=True)
class RateRatio:
    """The rate of one group over that of another. What is not defined is None, and the note says why."""

    ratio: float | None
    lower: float | None
    upper: float | None
    p_higher: float | None  # one-sided: so many or more in the first group, were the rates equal
    p_two_sided: float | None  # the smaller one-sided p, doubled; agrees with the limits
    note: str | None = None


def poisson_limits(events: np.ndarray, level: float = 0.95, mid_p: bool = False) -> tuple[np.ndarray, np.ndarray]:
    """
    Find the limits of the expected number of events, given how many were seen.

    Args:
        events: (m,) int, events seen.
        level: two-sided confidence level; each tail has half of the rest, also where no event is seen.
        mid_p: count what was seen by half. Narrower; they hold on average, the exact ones always.

    Returns:
        (m,) lower and (m,) upper.

    Raises:
        CountError: a negative number.

    Source:
        Exact: Garwood (1936), Biometrika 28:437-442. Mid-p: `mid_p_poisson_limits`.

    >>> lower, upper = poisson_limits(np.array([0, 10]))
    >>> lower.round(4).tolist(), upper.round(4).tolist()
    ([0.0, 4.7954], [3.6889, 18.3904])
    """
    from scipy.special import gammainccinv, gammaincinv

    z_score(level)  # refuses a level that is none
    events = whole_numbers("events", events)
    tail = (1 - level) / 2
    if mid_p:
        return mid_p_poisson_limits(events, tail)
    lower = np.where(events > 0, gammaincinv(np.maximum(events, 1), tail), 0.0)
    return lower, gammainccinv(events + 1.0, tail)


def revision_rate(revised: int, years: float, level: float = 0.95, mid_p: bool = False) -> RevisionRate:
    """
    Find the revisions per 100 implant-years, with the limits of `poisson_limits`.

    Args:
        revised: joints revised, those on day 0 included.
        years: implant-years in follow-up of all joints together.

    Raises:
        CountError: a negative number of revisions.
        ValueError: negative years.

    >>> revision_rate(10, 500.0).per_100_years
    2.0
    """
    if not 0 <= years < float("inf"):
        raise ValueError(f"Implant-years are 0 or more; {years} is not.")
    limits = [float(limit[0]) for limit in poisson_limits(np.array([revised]), level, mid_p)]
    if years == 0:
        return RevisionRate(revised, years, None, None, None, "a rate needs follow-up, and there is none")
    lower, upper = (100 * limit / years for limit in limits)
    return RevisionRate(revised, years, 100 * revised / years, lower, upper)


def rate_ratio(
    revised: int, years: float, other_revised: int, other_years: float, level: float = 0.95, mid_p: bool = False
) -> RateRatio:
    """
    Compare two rates exactly: given the sum of both counts, the first is binomial.

    Args:
        revised, years: of the first group.
        other_revised, other_years: of the group it is compared with; none of the joints are in both.
        mid_p: count what was seen by half, in limits and p alike.

    Raises:
        CountError: a negative number of revisions.
        ValueError: negative years.

    Source:
        Conditional binomial with the limits of Clopper & Pearson (1934), Biometrika 26:404-413.

    >>> found = rate_ratio(11, 800, 21, 3011)
    >>> round(found.ratio, 4), round(found.lower, 4), round(found.upper, 4), round(found.p_higher, 4)
    (1.9715, 0.8584, 4.2773, 0.056)
    """
    for span in (years, other_years):
        if not 0 <= span < float("inf"):
            raise ValueError(f"Implant-years are 0 or more; {span} is not.")
    z_score(level)  # refuses a level that is none
    a, b = whole_numbers("revisions", np.array([revised, other_revised])).tolist()
    if years == 0 or other_years == 0:
        return RateRatio(None, None, None, None, None, "a rate needs follow-up, and one group has none")
    if a + b == 0:
        note = "neither group has a revision: their rates cannot be compared"
        return RateRatio(None, None, None, 0.5 if mid_p else 1.0, 1.0, note)
    lower, upper = (mid_p_odds_limits if mid_p else _odds_limits)(a, b, (1 - level) / 2)
    scale = other_years / years
    p_higher, p_lower = _tails(a, b, years / (years + other_years), mid_p)
    return RateRatio(
        ratio=a / b * scale if b else None,
        lower=lower * scale,
        upper=None if upper is None else upper * scale,
        p_higher=p_higher,
        p_two_sided=min(1.0, 2 * min(p_higher, p_lower)),
        note=None if b else "the other group has no revision: the ratio has no upper limit",
    )


def _odds_limits(a: int, b: int, tail: float) -> tuple[float, float | None]:
    """Clopper-Pearson limits of a of a + b, as odds; both ends from a small tail, to keep the digits."""
    from scipy.special import betainccinv, betaincinv

    lower = float(betaincinv(a, b + 1, tail) / betainccinv(b + 1, a, tail)) if a else 0.0
    upper = float(betainccinv(a + 1, b, tail) / betaincinv(b, a + 1, tail)) if b else None
    return lower, upper


def _tails(a: int, b: int, share: float, mid_p: bool) -> tuple[float, float]:
    """Probability of a or more, and of a or fewer, of a + b, where each is the first group's with this share."""
    from scipy.special import betainc

    at_least = float(betainc(a, b + 1, share)) if a else 1.0
    at_most = float(betainc(b, a + 1, 1 - share)) if b else 1.0
    if not mid_p:
        return at_least, at_most
    more = float(betainc(a + 1, b, share)) if b else 0.0
    fewer = float(betainc(b + 1, a, 1 - share)) if a else 0.0
    return (at_least + more) / 2, (at_most + fewer) / 2
