"""Risk as a Cox model sees it: for one covariate pattern, or averaged over a population that both groups borrow."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from regdash.errors import ModelError
from regdash.stats.cox import CoxFit
from regdash.stats.design import Design
from regdash.stats.limits import z_score
from regdash.stats.products import product
from regdash.stats.step_curve import RiskSet, StepCurve

_BLOCK = 2**20  # risks, patterns × days, held at one time


@dataclass(frozen=True)
class RiskDifference:
    """The adjusted risk of one group less that of another, by the end of one day."""

    day: int
    difference: float
    se: float
    lower: float
    upper: float


@dataclass(frozen=True, eq=False)
class Population:
    """Covariate patterns to predict for, and how many joints stand for each."""

    design: Design  # (Q, ...) the columns that were asked of the fit
    joints: np.ndarray | None = None  # (Q,); left out: 1 each
    stratum: np.ndarray | None = None  # (Q,) their strata; left out: the fit's first


@dataclass(frozen=True, eq=False)
class _Average:
    """A mean risk on some days, and what it moves with: each stratum's baseline, and the coefficients."""

    risk: np.ndarray  # (g,)
    on_baseline: np.ndarray  # (strata, g) derivative by the cumulative hazard of each stratum
    on_coef: np.ndarray  # (g, K)


def adjusted_risk(fit: CoxFit, population: Population, days: Sequence[int] | np.ndarray | None = None) -> StepCurve:
    """
    Predict the proportion revised, averaged over the patterns of a population.

    Its standard error takes the population's covariates as given. The joints at risk are those of the fit, in
    the strata of the population; where one of these has nobody left, nothing is predicted.

    Args:
        days: (g,) int, rising, on which to predict; left out, every day with an event. In between, the curve
            stays flat.

    Raises:
        ModelError: a column or a stratum that the fit does not know, or a population without joints.

    Source:
        Mean of predicted curves: Makuch (1982), J Chronic Dis 35:437-443. Variance by the delta method, as
        Tsiatis (1981), Ann Stat 9:93-108, for one pattern, and Gail & Byar (1986), Biom J 28:587-599.
    """
    stratum = _known_strata(fit, population)
    cells = fit.scaled.likelihood.sets.cells
    within = np.isin(cells.stratum, stratum)
    grid = np.unique(cells.day[within]) if days is None else np.asarray(days, dtype=np.int64)
    average = _average(fit, population, stratum, grid)
    events = np.bincount(np.searchsorted(grid, cells.day[within]), cells.events[within], len(grid) + 1)[:-1]
    se = np.sqrt(_variance(fit, grid, average.on_baseline, average.on_coef))
    return StepCurve(grid, events.astype(np.int64), average.risk, se, _followed(fit, np.unique(stratum)))


def adjusted_difference(
    fit: CoxFit, one: Population, other: Population, days: Sequence[int] | np.ndarray, level: float = 0.95
) -> tuple[RiskDifference, ...]:
    """
    Predict the risk of one population less that of another, with plain limits.

    Where both have the same joints but for the covariate that tells the groups apart, the difference is
    standardised to those joints. Both share the baseline and the coefficients, so that much of their error cancels.

    Args:
        days: (g,) int, whole days since implantation.
    """
    grid = np.asarray(days, dtype=np.int64)
    first, second = (_average(fit, each, _known_strata(fit, each), grid) for each in (one, other))
    difference = first.risk - second.risk
    variance = _variance(fit, grid, first.on_baseline - second.on_baseline, first.on_coef - second.on_coef)
    width = z_score(level) * np.sqrt(variance)
    found = zip(grid, difference, np.sqrt(variance), difference - width, difference + width, strict=True)
    return tuple(RiskDifference(int(day), *(float(value) for value in values)) for day, *values in found)


def _known_strata(fit: CoxFit, population: Population) -> np.ndarray:
    """(Q,) place of each pattern's stratum among the fit's."""
    labels, patterns = fit.counts.numbered_strata[0], len(population.design.matrix)
    asked = np.full(patterns, labels[0]) if population.stratum is None else np.asarray(population.stratum)
    if len(asked) != patterns or not np.isin(asked, labels).all():
        raise ModelError(f"Each of the {patterns:,} patterns to predict needs a stratum that the model knows.")
    return np.searchsorted(labels, asked)


def _average(fit: CoxFit, population: Population, stratum: np.ndarray, days: np.ndarray) -> _Average:
    share = np.ones(len(stratum)) if population.joints is None else np.asarray(population.joints, dtype=float)
    if share.shape != stratum.shape or not share.sum() > 0:
        raise ModelError("A population to predict for needs joints: one number for each of its patterns.")
    hazard, share = fit.hazards(population.design), share / share.sum()
    columns = population.design.only(np.isin(np.array(population.design.names, dtype=object), fit.design.names))
    place = {name: number for number, name in enumerate(columns.names)}
    matrix = columns.matrix[:, [place[name] for name in fit.design.names]] - fit.scaled.centre
    means = fit.scaled.likelihood.means(fit.point).in_risk_set * fit.scaled.scale
    risk, on_coef = np.zeros(len(days)), np.zeros((len(days), matrix.shape[1]))
    on_baseline = np.zeros((fit.scaled.likelihood.sets.cells.strata, len(days)))
    for number in np.unique(stratum):
        of = stratum == number
        cumulative, shift = (_by_day(fit, number, values, days) for values in (fit.point.in_risk_set, means))
        part, slope, weighted = _risks(share[of], hazard[of], matrix[of], cumulative)
        risk += part
        on_baseline[number] = slope
        on_coef += cumulative[:, None] * weighted - slope[:, None] * shift
    return _Average(risk, on_baseline, on_coef)


def _risks(
    share: np.ndarray, hazard: np.ndarray, matrix: np.ndarray, cumulative: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """(g,) mean of 1 - S, (g,) of S × hazard and (g, K) of S × hazard × columns, a block of days at a time."""
    risk, slope = np.empty(len(cumulative)), np.empty(len(cumulative))
    weighted = np.empty((len(cumulative), matrix.shape[1]))
    step = max(1, _BLOCK // max(len(share), 1))
    for first in range(0, len(cumulative), step):
        block = slice(first, first + step)
        exponent = -np.outer(cumulative[block], hazard)
        risk[block] = -product(np.expm1(exponent), share)
        moved = np.exp(exponent) * (share * hazard)
        slope[block], weighted[block] = moved.sum(axis=1), product(moved, matrix)
    return risk, slope, weighted


def _variance(fit: CoxFit, days: np.ndarray, on_baseline: np.ndarray, on_coef: np.ndarray) -> np.ndarray:
    likelihood = fit.scaled.likelihood
    square = likelihood.terms.by_cell(likelihood.terms.times / fit.point.denominator**2)
    variance = np.einsum("gk,kl,gl->g", on_coef, fit.covariance, on_coef)
    for number in range(likelihood.sets.cells.strata):
        if on_baseline[number].any():
            variance += on_baseline[number] ** 2 * _by_day(fit, number, square, days)
    return np.maximum(variance, 0)


def _by_day(fit: CoxFit, stratum: int, by_cell: np.ndarray, days: np.ndarray) -> np.ndarray:
    """(g, ...) values of one stratum's cells, added up to the end of each day."""
    cells = fit.scaled.likelihood.sets.cells
    first, end = cells.bounds[stratum]
    running = np.zeros((end - first + 1, *by_cell.shape[1:]))
    np.cumsum(by_cell[first:end], axis=0, out=running[1:])
    return running[np.searchsorted(cells.day[first:end], days, side="right")]


def _followed(fit: CoxFit, strata: np.ndarray) -> RiskSet:
    """Who is in follow-up in some strata together, up to the day on which the first of them has nobody left."""
    labels = fit.counts.numbered_strata[0]
    sets = [fit.counts.followed(int(labels[number])) for number in strata]
    last = min((each.last_day if each.last_day is not None else -1) for each in sets)
    days = np.unique(np.concatenate([each.days for each in sets]))
    days = days[days <= last]
    return RiskSet(days, sum((each.at(days) for each in sets), np.zeros(len(days), dtype=np.int64)))
