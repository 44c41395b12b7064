"""Continuous covariates whose effect bends: restricted cubic splines."""

from collections.abc import Sequence

import numpy as np

from regdash.errors import ModelError
from regdash.stats.design import Design

KNOT_SHARES = {  # of the joints below each knot, by how many knots there are
    3: (0.1, 0.5, 0.9),
    4: (0.05, 0.35, 0.65, 0.95),
    5: (0.05, 0.275, 0.5, 0.725, 0.95),
    6: (0.05, 0.23, 0.41, 0.59, 0.77, 0.95),
    7: (0.025, 0.1833, 0.3417, 0.5, 0.6583, 0.8167, 0.975),
}


def spline_knots(values: np.ndarray, joints: np.ndarray | None = None, knots: int = 4) -> tuple[float, ...]:
    """
    Choose knots at fixed quantiles of a covariate.

    Args:
        values: (P,) of each pattern; joints: (P,) how many have it.
        knots: 3 to 7.

    Raises:
        ModelError: another number of knots, or so few distinct values that two knots fall together.

    Source:
        Harrell, Regression Modeling Strategies (2001), table 2.3; unchanged in the edition of 2015.

    >>> spline_knots(np.arange(101), knots=3)
    (10.0, 50.0, 90.0)
    """
    if knots not in KNOT_SHARES:
        raise ModelError(f"A spline has 3 to 7 knots, not {knots}.")
    found = counted_quantiles(values, np.ones(len(values)) if joints is None else joints, KNOT_SHARES[knots])
    if len(set(found)) < knots:
        raise ModelError(f"The covariate has too few values for {knots} knots: two would fall together at {found}.")
    return found


def counted_quantiles(values: np.ndarray, joints: np.ndarray, shares: Sequence[float]) -> tuple[float, ...]:
    """
    Find quantiles of a covariate, linear between the order statistics of the joints, as if each were listed.

    Args:
        values: (P,) of each pattern; joints: (P,) how many have it.
        shares: of the joints that lie below each, 0 to 1.

    Raises:
        ModelError: there are no joints.

    Source:
        Definition 7 of Hyndman & Fan (1996), Am Stat 50:361-365; R's quantile().

    >>> counted_quantiles(np.array([1, 5]), np.array([3, 1]), [0.5, 0.75])
    (1.0, 2.0)
    """
    values = np.asarray(values, dtype=float)
    order = np.argsort(values, kind="stable")
    total = np.cumsum(np.asarray(joints)[order])
    if not len(values) or total[-1] < 1:
        raise ModelError("A spline needs joints to choose its knots from.")
    place = np.array(shares) * (total[-1] - 1)
    low, high = (values[order][np.searchsorted(total, at, side="right")] for at in (np.floor(place), np.ceil(place)))
    return tuple((low + (high - low) * (place - np.floor(place))).tolist())


def spline(name: str, values: np.ndarray, knots: Sequence[float]) -> Design:
    """
    Let the log hazard bend between the knots, straight before the first and after the last.

    Args:
        values: (P,) of each pattern.
        knots: at least 3, rising.

    Returns:
        Columns of one term, a column less than knots: the covariate itself, then its bends, in its own unit.

    Raises:
        ModelError: fewer than 3 knots, or knots that do not rise.

    Source:
        Stone & Koo (1985); Harrell (2001), section 2.4.5, divided by the squared distance of the outer knots.

    >>> spline("age", np.array([40, 60, 80]), (50, 60, 70)).matrix.round(2).tolist()
    [[40.0, 0.0], [60.0, 2.5], [80.0, 30.0]]
    """
    t = np.array(knots, dtype=float)
    if len(t) < 3 or np.any(np.diff(t) <= 0):
        raise ModelError(f"A spline needs at least 3 knots that rise, not {', '.join(f'{knot:g}' for knot in knots)}.")
    x = np.asarray(values, dtype=float)
    cubes = np.maximum(x[:, None] - t, 0) ** 3
    last, width = cubes[:, -1:], t[-1] - t[-2]
    bends = cubes[:, :-2] - cubes[:, -2:-1] * (t[-1] - t[:-2]) / width + last * (t[-2] - t[:-2]) / width
    columns = np.concatenate([x[:, None], bends / (t[-1] - t[0]) ** 2], axis=1)
    names = (name, *(f"{name}, bend {number}" for number in range(1, len(t) - 1)))
    return Design(names, (name,) * len(names), columns)
