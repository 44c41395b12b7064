"""
Mid-p: exact tails that count the outcome which was seen by half. Narrower limits than the exact ones, which
hold on average but not for every true value.
"""

import numpy as np

from regdash.stats.roots import roots


def mid_p_poisson_limits(events: np.ndarray, tail: float) -> tuple[np.ndarray, np.ndarray]:
    """
    Find the means at which half of the chance of what was seen, and all beyond it, have together a tail's chance.

    Args:
        events: (m,) int64, events seen.
        tail: chance left out at each end, below one half.

    Returns:
        (m,) lower, 0 where no event was seen, and (m,) upper.

    Source:
        Lancaster (1961), JASA 56:223-234; limits as Cohen & Yang (1994), Stat Med 13:2189-2203.

    >>> lower, upper = mid_p_poisson_limits(np.array([0, 10]), 0.025)
    >>> lower.round(4).tolist(), upper.round(4).tolist()
    ([0.0, 5.0795], [2.9957, 17.8249])
    """
    from scipy.special import gammainc, gammaincc, gammainccinv, gammaincinv

    def fall_short(mean: np.ndarray) -> np.ndarray:
        return gammainc(seen, mean) + gammainc(seen + 1, mean) - 2 * tail

    def exceed(mean: np.ndarray) -> np.ndarray:
        fewer = np.where(events > 0, gammaincc(np.maximum(events, 1), mean), 0.0)
        return gammaincc(events + 1.0, mean) + fewer - 2 * tail

    # Twice the mid-p tail is the sum of two exact tails, so that its root lies between theirs.
    lower, seen = np.zeros(len(events)), events[events > 0].astype(float)
    lower[events > 0] = roots(fall_short, gammaincinv(seen, tail), gammaincinv(seen + 1, tail))
    one_less = np.where(events > 0, gammainccinv(np.maximum(events, 1), tail), 0.0)
    return lower, roots(exceed, one_less, gammainccinv(events + 1.0, tail))


def mid_p_odds_limits(a: int, b: int, tail: float) -> tuple[float, float | None]:
    """Find the mid-p limits of a of a + b, as odds; both ends by a small tail, to keep the digits. No b: no upper."""
    lower = _lower_odds(a, b, tail) if a else 0.0
    upper = 1 / _lower_odds(b, a, tail) if b else None
    return lower, upper


def _lower_odds(a: int, b: int, tail: float) -> float:
    from scipy.special import betainc, betaincc, betainccinv, betaincinv

    if not b:  # half of p^a is the tail's chance
        log_share = np.log(2 * tail) / a
        return float(np.exp(log_share) / -np.expm1(log_share))

    def excess(log_odds: np.ndarray) -> np.ndarray:
        """Two exact tails, from whichever of the share and its rest is the smaller."""
        odds = np.exp(log_odds)
        share, rest = odds / (1 + odds), 1 / (1 + odds)
        more = np.where(odds < 1, betainc(a + 1, b, share), betaincc(b, a + 1, rest))
        return np.where(odds < 1, betainc(a, b + 1, share), betaincc(b + 1, a, rest)) + more - 2 * tail

    ends = ((a, b + 1), (a + 1, b))
    low, high = (np.log(betaincinv(i, k, tail) / betainccinv(k, i, tail)) for i, k in ends)
    return float(np.exp(roots(excess, np.array([low]), np.array([high]))[0]))
