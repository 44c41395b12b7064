"""The one place where whole days become years, and years become whole days."""

from math import floor
from typing import overload

import numpy as np

DAYS_PER_YEAR = 365.25
# A year that was itself made from whole days must give those days back: 1e-9 days is far above
# rounding and far below anything a calendar can tell.
_ROUNDING = 1e-9


def days_in(years: float) -> int:
    """
    Find the last whole day of a span of years: the largest whole number ≤ 365.25 × years.

    Raises:
        ValueError: years negative, infinite or not a number.

    >>> days_in(1), days_in(10), days_in(0.5)
    (365, 3652, 182)
    """
    if not 0 <= years < float("inf"):
        raise ValueError(f"A span of years is 0 or more; {years} is not.")
    return floor(years * DAYS_PER_YEAR + _ROUNDING)


@overload
def years_in(days: float) -> float: ...
@overload
def years_in(days: np.ndarray) -> np.ndarray: ...
def years_in(days: float | np.ndarray) -> float | np.ndarray:
    """
    Say days in years of 365.25 days; to be called once, at the end, for display or for a rate.

    >>> years_in(1461)
    4.0
    """
    return days / DAYS_PER_YEAR
