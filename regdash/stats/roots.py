"""Where a function crosses 0, for many of them at a time."""

from collections.abc import Callable

import numpy as np

_MOST = 200
_Point = tuple[np.ndarray, np.ndarray]  # (m,) points and (m,) values there


def roots(function: Callable[[np.ndarray], np.ndarray], low: np.ndarray, high: np.ndarray) -> np.ndarray:
    """
    Find the points between low and high at which functions are 0, to the last digit that numbers hold.

    Args:
        function: (m,) points to (m,) values; each depends on its own point alone.
        low, high: (m,) between which each function changes its sign, or is 0 at one of them.

    Returns:
        (m,) the points.

    Raises:
        ArithmeticError: a function that has one sign at both ends.

    Source:
        Chandrupatla (1997), Adv Eng Softw 28:145-149: inverse quadratic steps where they are safe, else halves.

    >>> roots(lambda x: x**2 - np.array([2, 9]), np.zeros(2), np.array([2, 5])).round(12).tolist()
    [1.414213562373, 3.0]
    """
    a, b = np.array(low, dtype=float), np.array(high, dtype=float)
    at_a, at_b = function(a), function(b)
    if np.any(np.sign(at_a) * np.sign(at_b) > 0):
        raise ArithmeticError("A function has the same sign at both ends, so that no root is known to lie between.")
    if not len(a):
        return a
    share = np.full(len(a), 0.5)
    for _ in range(_MOST):
        point = a + share * (b - a)
        at_point = function(point)
        same = np.sign(at_point) == np.sign(at_a)
        c, at_c = np.where(same, a, b), np.where(same, at_a, at_b)
        b, at_b = np.where(same, b, a), np.where(same, at_b, at_a)
        a, at_a = point, at_point
        nearest = np.where(np.abs(at_a) < np.abs(at_b), a, b)
        width = 4 * np.finfo(float).eps * np.abs(nearest) + 1e-300
        done = (np.abs(b - a) <= width) | (at_a == 0) | (at_b == 0)
        if done.all():
            break
        share = np.where(done, 0.5, _next_share((a, at_a), (b, at_b), (c, at_c), width))
    return np.where(at_a == 0, a, np.where(at_b == 0, b, nearest))


def tops(slope: Callable[[np.ndarray], np.ndarray], grid: np.ndarray) -> np.ndarray:
    """
    Find the points between neighbours of a rising grid at which a slope falls through 0: a function's local tops.

    >>> tops(np.sin, np.array([1.0, 2, 4, 6, 8, 10])).round(4).tolist()
    [3.1416, 9.4248]
    """
    at = slope(grid)
    falls = np.flatnonzero((at[:-1] > 0) & (at[1:] <= 0))
    return roots(slope, grid[falls], grid[falls + 1])


def _next_share(a: _Point, b: _Point, c: _Point, width: np.ndarray) -> np.ndarray:
    """How far to go from a, the newest point, towards b; c is the one given up last."""
    (x, fx), (y, fy), (z, fz) = a, b, c
    with np.errstate(all="ignore"):
        xi, phi = (x - y) / (z - y), (fx - fy) / (fz - fy)
        quadratic = fx / (fy - fx) * fz / (fy - fz) + (z - x) / (y - x) * fx / (fz - fx) * fy / (fz - fy)
        safe = (phi**2 < xi) & ((1 - phi) ** 2 < 1 - xi) & np.isfinite(quadratic)
        least = np.minimum(width / (2 * np.abs(y - x)), 0.5)
    return np.clip(np.where(safe, quadratic, 0.5), least, 1 - least)
