"""Tests of a Cox model, of all its terms or of some: likelihood ratio, Wald, score."""

import numpy as np

from regdash.errors import ModelError
from regdash.stats.chi_square import ChiSquareTest, chi_square_test
from regdash.stats.cox import CoxFit, cox, scaled_likelihood
from regdash.stats.newton import refuse_collinear
from regdash.stats.partial_likelihood import PartialLikelihood


def likelihood_ratio_test(fit: CoxFit, *terms: str) -> ChiSquareTest:
    """
    Compare the fit with one that lacks these terms; without terms, with one that lacks all.

    Levels without events count among the degrees of freedom: the likelihood knows of them.

    Raises:
        ModelError: a term that the model does not have.

    >>> from regdash.stats.cox_counts import PatternCounts
    >>> from regdash.stats.design import linear
    >>> counts = PatternCounts(2, [0, 1, 0, 1], [1, 1, 9, 9], [1, 1, 0, 0], [1, 3, 4, 2])  # of 5 and 5, 1 and 3
    >>> round(likelihood_ratio_test(cox(counts, linear("new", [0, 1]), "breslow")).statistic, 4)  # 6 log 3 - 8 log 2
    1.0465
    """
    out = fit.asked.places(*(terms or fit.asked.terms))
    smaller = fit.loglik_null if out.all() else _loglik_without(fit, out)
    return chi_square_test(2 * (fit.loglik - smaller), int(out.sum()))


def wald_test(fit: CoxFit, *terms: str, covariance: np.ndarray | None = None) -> ChiSquareTest:
    """
    Measure the coefficients of these terms, or of all, by their covariance, or by another one (`robust_covariance`).

    Raises:
        ModelError: a term that the model does not have, or none of whose levels has events.
    """
    fit.asked.places(*terms)
    tested = np.isin(np.array(fit.design.terms, dtype=object), terms or fit.design.terms)
    if not tested.any():
        raise ModelError(f"No level of {' or '.join(terms)} but the reference has an event: there is nothing to test.")
    return wald_of_columns(fit, np.flatnonzero(tested), covariance)


def wald_of_columns(fit: CoxFit, columns: np.ndarray, covariance: np.ndarray | None = None) -> ChiSquareTest:
    """Measure some coefficients, (n,) by their places, as `wald_test` does those of terms."""
    within = (fit.covariance if covariance is None else covariance)[np.ix_(columns, columns)]
    coef = fit.coef[columns]
    return chi_square_test(float(coef @ np.linalg.solve(within, coef)), len(columns))


def score_test(fit: CoxFit, *terms: str) -> ChiSquareTest:
    """
    Measure how steeply the likelihood rises where the coefficients of these terms, or all, are 0.

    Raises:
        ModelError: a term that the model does not have.
    """
    out = fit.asked.places(*(terms or fit.asked.terms))
    live, design, coef = None, fit.asked, np.zeros(len(fit.asked.names))
    if not out.all():
        smaller = _without(fit, out)
        live = smaller.scaled.likelihood.live
        dead = {left.name for left in smaller.left_out}
        design = fit.asked.only(np.array([name not in dead for name in fit.asked.names]))
        known = dict(zip(smaller.design.names, smaller.coef.tolist(), strict=True))
        coef = np.array([known.get(name, 0.0) for name in design.names])
        out = design.places(*terms)
    scaled = scaled_likelihood(fit.scaled.null, design, fit.counts.by_pattern(), live)
    point = scaled.likelihood.at(coef * scaled.scale)
    information = scaled.likelihood.information(point)[0]
    refuse_collinear(information, design.names, scaled.likelihood.events)
    score = np.where(out, scaled.likelihood.score(point), 0.0)
    return chi_square_test(float(score @ np.linalg.solve(information, score)), int(out.sum()))


def _loglik_without(fit: CoxFit, out: np.ndarray) -> float:
    rest = fit.asked.only(~out)
    if not set(rest.names) <= {left.name for left in fit.left_out}:
        return _without(fit, out).loglik
    null = fit.scaled.null  # what is left are levels without events: their joints are out of all comparisons
    live = np.logical_not(rest.matrix.any(axis=1))
    return PartialLikelihood(null.sets, null.columns, null.ties, null.offset, live).at(np.zeros(0)).loglik


def _without(fit: CoxFit, out: np.ndarray) -> CoxFit:
    return cox(fit.counts, fit.asked.only(~out), fit.ties, fit.scaled.null.offset)
