"""Hazard ratios where events and others are separated: Firth's penalty keeps estimates and limits finite."""

from collections.abc import Callable
from dataclasses import dataclass, field
from math import exp, sqrt

import numpy as np

from regdash.errors import ModelError
from regdash.stats.chi_square import chi_square_test
from regdash.stats.cox import LARGEST, HazardRatio, checked_offset, scaled_likelihood
from regdash.stats.cox_counts import PatternCounts
from regdash.stats.design import Design
from regdash.stats.incidence import Columns
from regdash.stats.limits import z_score
from regdash.stats.newton import refuse_collinear
from regdash.stats.partial_likelihood import PartialLikelihood, Point, Ties
from regdash.stats.products import product
from regdash.stats.risk_sets import risk_sets

_STEP, _LONGEST, _MOST = 1e-10, 2.0, 500


@dataclass(frozen=True, eq=False)
class Penalised:
    """The likelihood times the square root of the information's determinant, at one set of coefficients."""

    point: Point
    information: np.ndarray  # (K, K) of the likelihood itself
    loglik: float  # penalised; -inf where the information is gone


@dataclass(frozen=True, eq=False)
class FirthFit:
    """Log hazard ratios per unit of each column, under the penalty."""

    design: Design
    coef: np.ndarray  # (K,)
    covariance: np.ndarray  # (K, K) inverse of the information of the likelihood there
    loglik: float  # penalised, of the columns as given
    events: int
    ties: Ties
    likelihood: PartialLikelihood = field(repr=False)  # of the columns centred and scaled
    scale: np.ndarray = field(repr=False)  # (K,)
    top: Penalised = field(repr=False)

    def ratios(self, level: float = 0.95) -> tuple[HazardRatio, ...]:
        """
        Give the hazard ratio of each column, with limits and p from the profile of the penalised likelihood.

        A log ratio lies outside the limits where the likelihood, highest over all other coefficients, falls
        short of its top by more than chance allows. Wald limits would be wrong where a level has no events.
        """
        return tuple(self._ratio(number, level) for number in range(len(self.coef)))

    def _ratio(self, number: int, level: float) -> HazardRatio:
        name, scale, at_top = self.design.names[number], float(self.scale[number]), self.top.point.coef[number]
        allowed = z_score(level) ** 2
        se = sqrt(self.covariance[number, number])

        def short(value: float) -> float:
            return 2 * (self.top.loglik - _highest(self.likelihood, self.top.point.coef, number, value).loglik)

        limits = [_crossing(lambda value: short(value) - allowed, at_top, side * scale * se) for side in (-1, 1)]
        lower, upper = (exp(limit / scale) if limit / scale < LARGEST else None for limit in limits)
        p = chi_square_test(short(0.0), 1).p
        return HazardRatio(name, exp(self.coef[number]), lower, upper, se, p)


def firth(counts: PatternCounts, design: Design, ties: Ties = "efron", offset: np.ndarray | None = None) -> FirthFit:
    """
    Estimate hazard ratios as `cox` does, with Jeffreys' prior as a penalty; every one of them is finite.

    It pulls coefficients a little towards 0, by as much as maximum likelihood overstates them with few events.

    Raises:
        ModelError: no events, one level only, or collinear columns.

    Source:
        Firth (1993), Biometrika 80:27-38; Heinze & Schemper (2001), Biometrics 57:114-119.

    >>> counts = PatternCounts(2, [0, 1, 1], [9, 1, 9], [0, 1, 0], [3, 1, 2])  # one event, half of the joints new
    >>> fit = firth(counts, Design(("new",), ("new",), [[0], [1]]))
    >>> round(fit.ratios()[0].ratio, 6)
    3.0
    """
    offset = checked_offset(counts, design, offset)
    if not counts.events:
        raise ModelError(f"None of {int(counts.weights.sum()):,} joints has the event: there is no ratio to estimate.")
    null = PartialLikelihood(risk_sets(counts), Columns(design.matrix[:, :0]), ties, offset)
    scaled = scaled_likelihood(null, design, counts.by_pattern())
    start = np.zeros(len(design.names))
    information = scaled.likelihood.information(scaled.likelihood.at(start))[0]
    refuse_collinear(information, design.names, scaled.likelihood.events)
    top = _climb(scaled.likelihood, start, np.ones(len(start), dtype=bool))
    return FirthFit(
        design=design,
        coef=scaled.coef(top.point),
        covariance=scaled.covariance(np.linalg.inv(top.information)),
        loglik=top.loglik + float(np.log(scaled.scale).sum()),
        events=counts.events,
        ties=ties,
        likelihood=scaled.likelihood,
        scale=scaled.scale,
        top=top,
    )


def _penalised(likelihood: PartialLikelihood, coef: np.ndarray) -> Penalised:
    point = likelihood.at(coef)
    if not np.isfinite(point.loglik):
        return Penalised(point, np.eye(len(coef)), -np.inf)
    information = likelihood.information(point)[0]
    sign, log_determinant = np.linalg.slogdet(information)
    return Penalised(point, information, point.loglik + log_determinant / 2 if sign > 0 else -np.inf)


def _score(likelihood: PartialLikelihood, at: Penalised) -> np.ndarray:
    """
    (K,) first derivative of the penalised log-likelihood.

    Its penalty has the third moments of the columns over the risk sets: of x less its mean z,

        E[(x - z)' V (x - z) (x - z)] = E[x'Vx x] - E[x'Vx] z - 2 E[x x'] V z + 2 z (z'Vz)
    """
    matrix, point, terms = likelihood.columns.matrix, at.point, likelihood.terms
    covariance = np.linalg.inv(at.information)
    square = np.einsum("pk,kl,pl->p", matrix, covariance, matrix)
    whole = Columns(np.concatenate([matrix, square[:, None]], axis=1))
    over = PartialLikelihood(likelihood.sets, whole, likelihood.ties, likelihood.offset)
    at_risk, tied = over.sums(point)
    z = (at_risk[terms.cell] - terms.share[:, None] * tied[terms.cell]) / point.denominator[:, None]
    z, mean_square = z[:, :-1], z[:, -1]
    means = likelihood.means(point)
    sets = likelihood.sets
    carried = point.hazard[:, None] * (
        sets.at_risk.over_cells(means.in_risk_set) - sets.events.over_cells(means.in_ties)
    )
    crossed = np.einsum("pk,kl,pl->p", matrix, covariance, carried)
    by_pattern = likelihood.expected(point) * square - 2 * crossed
    by_term = terms.times * (2 * np.einsum("qk,kl,ql->q", z, covariance, z) - mean_square)
    return likelihood.score(point) + (product(matrix.T, by_pattern) + product(z.T, by_term)) / 2


def _climb(likelihood: PartialLikelihood, start: np.ndarray, free: np.ndarray) -> Penalised:
    """
    Go to the top over the free coefficients, in steps no longer than allowed.

    The penalty's own curvature is not known, and with few events it matters: it is learnt from how the score
    changes (Broyden, Fletcher, Goldfarb & Shanno), starting from the information.
    """
    at = _penalised(likelihood, start)
    inverse, score = np.linalg.inv(at.information[np.ix_(free, free)]), _score(likelihood, at)[free]
    for _ in range(_MOST):
        step = np.zeros(len(start))
        step[free] = inverse @ score
        length = float(np.max(np.abs(step), initial=0))
        if length < _STEP:
            return at
        further = _uphill(likelihood, at, step * min(1, _LONGEST / length))
        if further is None:
            return at
        moved, before = (further.point.coef - at.point.coef)[free], score
        at, score = further, _score(likelihood, further)[free]
        inverse = _learnt(inverse, moved, before - score)
    raise ModelError("The penalised likelihood has no top that can be reached. Merge levels with few events.")


def _learnt(inverse: np.ndarray, moved: np.ndarray, changed: np.ndarray) -> np.ndarray:
    """Make the inverse curvature agree with a step and the change of the score along it, if that is a curve."""
    curvature = float(moved @ changed)
    if curvature <= 1e-14 * float(np.linalg.norm(moved) * np.linalg.norm(changed)):
        return inverse
    turned = np.eye(len(moved)) - np.outer(moved, changed) / curvature
    return turned @ inverse @ turned.T + np.outer(moved, moved) / curvature


def _uphill(likelihood: PartialLikelihood, at: Penalised, step: np.ndarray) -> Penalised | None:
    rounding = 1e-12 * (1 + abs(at.loglik))
    for _ in range(30):
        further = _penalised(likelihood, at.point.coef + step)
        if further.loglik >= at.loglik - rounding:
            return further
        step = step / 2
    return None


def _highest(likelihood: PartialLikelihood, start: np.ndarray, number: int, value: float) -> Penalised:
    """The highest point where one coefficient has this value."""
    coef = start.copy()
    coef[number] = value
    free = np.ones(len(start), dtype=bool)
    free[number] = False
    return _climb(likelihood, coef, free) if free.any() else _penalised(likelihood, coef)


def _crossing(height: Callable[[float], float], start: float, step: float) -> float:
    """Find where a function that is below 0 at the start rises through 0 in the step's direction (Illinois rule)."""
    low, high = (start, -1.0), (start + step, height(start + step))
    while high[1] < 0:
        step *= 2
        low, high = high, (start + step, height(start + step))
    low = (low[0], height(low[0]))
    for _ in range(100):
        between = high[0] - high[1] * (high[0] - low[0]) / (high[1] - low[1])
        found = (between, height(between))
        if abs(found[1]) < 1e-11 or abs(high[0] - low[0]) < 1e-12 * (1 + abs(high[0])):
            break
        if found[1] * high[1] < 0:
            low, high = high, found
        else:
            low, high = (low[0], low[1] / 2), found
    return between
