"""One-sided tests of many units at once: does a ratio exceed a stated one?"""

import numpy as np

from regdash.errors import CountError
from regdash.stats.counts import amounts, whole_numbers


def rate_p_above(
    revised: np.ndarray, years: np.ndarray, other_revised: np.ndarray, other_years: np.ndarray, stated: float = 1.0
) -> np.ndarray:
    """
    Test exactly whether rates exceed a stated multiple of those of others: given the sum, the first is binomial.

    Args:
        revised, years: (k,) of the units.
        other_revised, other_years: (k,) of what each is compared with; none of a unit's joints are in both.
        stated: the ratio that is allowed.

    Returns:
        (k,) probability of so many or more, were the ratio the stated one; NaN where one side has no follow-up.

    Raises:
        CountError: broken or negative numbers.
        ValueError: a stated ratio that is none.

    Source:
        Conditional binomial, as `poisson.rate_ratio`.

    >>> rate_p_above([11], [800], [21], [3011]).round(4).tolist()
    [0.056]
    """
    from scipy.special import betainc

    checked_ratio(stated)
    a, b = whole_numbers("revisions", revised), whole_numbers("other revisions", other_revised)
    span, other = amounts("years", years), amounts("other years", other_years)
    if len({len(a), len(b), len(span), len(other)}) > 1:
        raise CountError("Revisions and years of units and of others must be of one length.")
    there = (span > 0) & (other > 0)
    share = stated * span / np.where(there, stated * span + other, 1)
    return np.where(there, np.where(a > 0, betainc(np.maximum(a, 1), b + 1.0, share), 1.0), np.nan)


def events_p_above(events: np.ndarray, expected: np.ndarray, trials: np.ndarray) -> np.ndarray:
    """
    Bound the probability of so many events or more, of trials whose chances differ.

    Each event of a partial likelihood is one trial: it falls on the unit with the unit's share of the risk set.
    Among all trials with the same sum of chances, equal chances make the highest counts likeliest, so that the bound
    is exact where shares are equal and never too small. It holds from one event above the expected on, which is
    where it is small; below that it is 1.

    Args:
        events: (k,) int, seen.
        expected: (k,) sum of the chances.
        trials: (k,) how many there are.

    Source:
        Hoeffding (1956), Ann Math Stat 27:713-721, theorem 4; shares of risk sets: Cox (1975), Biometrika 62:269-276.

    >>> events_p_above([3, 1], [1.0, 1.0], [4, 4]).round(6).tolist()  # three of four heads, each with a quarter
    [0.050781, 1.0]
    """
    from scipy.special import betainc

    seen, due, most = whole_numbers("events", events), amounts("expected events", expected), amounts("trials", trials)
    some = (seen >= due + 1) & (seen <= most)
    at = np.where(some, seen, 1)
    tail = betainc(at, np.where(some, most - at + 1, 1.0), np.clip(due / np.maximum(most, 1), 0, 1))
    return np.where(some, tail, np.where(seen > most, 0.0, 1.0))


def checked_ratio(stated: float) -> None:
    """
    Refuse a ratio that is none.

    Raises:
        ValueError: with it.
    """
    if not 0 < stated < float("inf"):
        raise ValueError(f"A ratio is above 0; {stated} is not.")
