"""Many tests in one run: how many of those that are called out are expected to be false."""

import numpy as np

from regdash.errors import CountError
from regdash.stats.counts import amounts


def benjamini_hochberg(p: np.ndarray) -> np.ndarray:
    """
    Find q: calling out all with q up to a share, that share of them at most is expected to be false.

    It holds where tests are independent or depend on each other positively, as those of overlapping implants do
    mostly. Counts make p discrete, and q too large rather than too small.

    Args:
        p: (m,) of all tests of the run, those included that nobody would call out.

    Returns:
        (m,) q, in the order of p.

    Raises:
        CountError: a p that is not from 0 to 1.

    Source:
        Benjamini & Hochberg (1995), JRSSB 57:289-300.

    >>> benjamini_hochberg(np.array([0.03, 0.01, 0.5, 0.02])).round(4).tolist()
    [0.04, 0.04, 0.5, 0.04]
    """
    p = amounts("p values", p)
    if np.any(p > 1):
        raise CountError(f"A p value is from 0 to 1; {p.max()} is not.")
    order = np.argsort(p, kind="stable")
    steps = p[order] * (len(p) / np.arange(1, len(p) + 1))  # so that rounding leaves no q below its p
    q = np.empty(len(p))
    q[order] = np.minimum(np.minimum.accumulate(steps[::-1])[::-1], 1)
    return q


def benjamini_yekutieli(p: np.ndarray) -> np.ndarray:
    """
    Find q as `benjamini_hochberg`, safe however the tests depend on each other, and harsh.

    Source:
        Benjamini & Yekutieli (2001), Ann Stat 29:1165-1188.

    >>> benjamini_yekutieli(np.array([0.01, 0.5])).round(4).tolist()
    [0.03, 0.75]
    """
    p = amounts("p values", p)
    return np.minimum(benjamini_hochberg(p) * np.sum(1 / np.arange(1, len(p) + 1)), 1)
