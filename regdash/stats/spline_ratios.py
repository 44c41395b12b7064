"""The hazard ratio along a covariate whose effect bends, against one value of it, with pointwise limits."""

from collections.abc import Sequence

import numpy as np

from regdash.errors import ModelError
from regdash.stats.chi_square import ChiSquareTest, chi_square_test
from regdash.stats.cox import CoxFit, HazardRatio, cox
from regdash.stats.cox_tests import wald_of_columns
from regdash.stats.spline import spline


def spline_ratios(
    fit: CoxFit,
    name: str,
    knots: Sequence[float],
    values: np.ndarray,
    reference: float,
    level: float = 0.95,
    covariance: np.ndarray | None = None,
) -> tuple[HazardRatio, ...]:
    """
    Read a fit that holds `spline(name, …, knots)` at some values, everything else alike.

    Args:
        values: (n,) of the covariate, in the unit of the knots.
        reference: the value whose hazard the others are divided by; its own ratio is 1, with limits 1 and 1.
        covariance: (K, K) another one, as from `robust_covariance`.

    Returns:
        One for each value, with Wald's limits.

    Raises:
        ModelError: the fit has no such spline.

    Source:
        Harrell, Regression Modeling Strategies (2015), section 2.4: a linear contrast of the spline's columns.
    """
    columns = _columns(fit, name, knots)
    there, here = (spline(name, np.asarray(at, dtype=float), knots).matrix for at in (values, [reference]))
    weights = np.zeros((len(there), len(fit.coef)))
    weights[:, columns] = there - here
    return tuple(fit.ratio(f"{name}={value:g}", own, level, covariance) for value, own in zip(values, weights))


def bending_test(fit: CoxFit, name: str, knots: Sequence[float], covariance: np.ndarray | None = None) -> ChiSquareTest:
    """
    Test whether the log hazard bends along the covariate, or runs straight: all bends are 0.

    Args:
        covariance: (K, K) another one; the test is then Wald's, and else of the likelihood ratio to a straight line.

    Raises:
        ModelError: the fit has no such spline.
    """
    bends = _columns(fit, name, knots)[1:]
    if covariance is not None:
        return wald_of_columns(fit, bends, covariance)
    out = {fit.design.names[place] for place in bends}
    kept = np.array([name not in out for name in fit.asked.names])
    straight = cox(fit.counts, fit.asked.only(kept), fit.ties, fit.scaled.null.offset)
    return chi_square_test(2 * (fit.loglik - straight.loglik), len(bends))


def _columns(fit: CoxFit, name: str, knots: Sequence[float]) -> np.ndarray:
    """(knots - 1,) places of the spline's columns among the coefficients, the straight one first."""
    wanted = spline(name, np.array([knots[0]]), knots).names
    if not set(wanted) <= set(fit.design.names):
        raise ModelError(f"The model has no spline of '{name}' with {len(knots)} knots, so it cannot be read there.")
    return np.array([fit.design.names.index(one) for one in wanted])
