"""The partial likelihood of Cox's model on counts: its logarithm, score and information at any coefficients."""

from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np

from regdash.stats.incidence import Columns
from regdash.stats.products import product
from regdash.stats.risk_sets import RiskSets, thinned

Ties = Literal["efron", "breslow"]


@dataclass(frozen=True, eq=False)
class Terms:
    """
    The denominators of the likelihood: of each cell, risk set − share × those with the event.

    Efron: one for each of d tied events, shares 0, 1/d ... (d - 1)/d. Breslow: one that counts d times.
    """

    cell: np.ndarray  # (q,) int64
    share: np.ndarray  # (q,) 0 to 1
    times: np.ndarray  # (q,)
    starts: np.ndarray  # (m,) first of each cell

    @classmethod
    def of(cls, events: np.ndarray, ties: Ties) -> "Terms":
        """Lay them out for (m,) events by cell."""
        cells = np.arange(len(events))
        if ties == "breslow":
            return cls(cells, np.zeros(len(events)), events.astype(float), cells)
        starts = np.cumsum(events) - events
        cell = np.repeat(cells, events)
        share = (np.arange(len(cell)) - starts[cell]) / events[cell]
        return cls(cell, share, np.ones(len(cell)), starts)

    def by_cell(self, values: np.ndarray) -> np.ndarray:
        """Add values of the terms, (q,), up by cell, (m,)."""
        return np.add.reduceat(values, self.starts) if len(values) else np.zeros(0)


@dataclass(frozen=True, eq=False)
class Point:
    """The likelihood at one set of coefficients."""

    coef: np.ndarray  # (K,)
    loglik: float
    hazard: np.ndarray  # (P,) relative hazard of each pattern
    denominator: np.ndarray  # (q,) of each term
    in_risk_set: np.ndarray  # (m,) hazard of a joint at risk, summed: d log-baseline: sum of 1 / denominator
    in_ties: np.ndarray  # (m,) what is taken off it for a joint with the event: sum of share / denominator


@dataclass(frozen=True, eq=False)
class Means:
    """Mean columns of those at risk, z, in each cell, summed over its denominators in the ways that residuals need."""

    at_events: np.ndarray  # (m, K) mean of z over the events of each cell
    in_risk_set: np.ndarray  # (m, K) sum of z / denominator
    in_ties: np.ndarray  # (m, K) sum of share × z / denominator


class PartialLikelihood:
    """
    Cox's partial likelihood for (P, K) columns, (P,) offsets and the risk sets of their counts.

    Source:
        Cox (1975), Biometrika 62:269-276; ties as Breslow (1974), Biometrics 30:89-99, and
        Efron (1977), JASA 72:557-565.
    """

    def __init__(
        self,
        sets: RiskSets,
        columns: Columns,
        ties: Ties,
        offset: np.ndarray | None = None,
        live: np.ndarray | None = None,
    ) -> None:
        patterns = len(columns.matrix)
        self.sets, self.columns, self.ties = sets, columns, ties
        self.offset = np.zeros(patterns) if offset is None else offset
        self.live = live  # (P,) bool: patterns whose hazard is not 0 from the start; None: all
        self.terms = Terms.of(sets.cells.events, ties)
        self.by_pattern = sets.events.over_cells(np.ones(len(sets.cells)))  # (P,) joints with the event
        self.events = float(self.by_pattern.sum())

    @cached_property
    def rough(self) -> "PartialLikelihood | None":
        """A quick stand-in on fewer cells, or none where the exact one is as quick."""
        if not self.sets.worth_thinning:
            return None
        return PartialLikelihood(thinned(self.sets), self.columns, "breslow", self.offset, self.live)

    def at(self, coef: np.ndarray) -> Point:
        """Evaluate the log-likelihood; -inf where it is beyond what numbers can hold."""
        predictor = product(self.columns.matrix, coef) + self.offset
        with np.errstate(over="ignore", divide="ignore", invalid="ignore"):
            hazard = np.exp(predictor) if self.live is None else np.where(self.live, np.exp(predictor), 0.0)
            terms = self.terms
            denominator = self.sets.at_risk.in_cells(hazard)[terms.cell]
            if self.ties == "efron":
                denominator -= terms.share * self.sets.events.in_cells(hazard)[terms.cell]
            loglik = float(np.sum(self.by_pattern * predictor) - np.sum(terms.times * np.log(denominator)))
            inverse = terms.times / denominator
        if not np.isfinite(loglik):
            loglik = -np.inf
        return Point(coef, loglik, hazard, denominator, terms.by_cell(inverse), terms.by_cell(inverse * terms.share))

    def expected(self, point: Point, weights: np.ndarray | None = None) -> np.ndarray:
        """(P,) expected events of each pattern; each cell counts as often as (m,) weights say, or once."""
        risk_set, ties = point.in_risk_set, point.in_ties
        if weights is not None:
            risk_set, ties = weights * risk_set, weights * ties
        exposure = self.sets.at_risk.over_cells(risk_set)
        if self.ties == "efron":
            exposure -= self.sets.events.over_cells(ties)
        return point.hazard * exposure

    def score(self, point: Point, weights: np.ndarray | None = None) -> np.ndarray:
        """(K,) first derivative of the log-likelihood, each cell weighted."""
        observed = self.by_pattern if weights is None else self.sets.events.over_cells(weights)
        return product(self.columns.matrix.T, observed - self.expected(point, weights))

    def information(self, point: Point, *weights: np.ndarray) -> list[np.ndarray]:
        """(K, K) minus second derivatives, the cells weighted by each of (m,) weights; unweighted if there are none."""
        sums = self.sums(point)
        return [self._information(point, sums, given) for given in (weights or (None,))]

    def sums(self, point: Point) -> tuple[np.ndarray, np.ndarray]:
        """(m, K) sums of hazard × columns over those at risk, and over those with the event, in each cell."""
        at_risk = self.sets.at_risk.columns_in_cells(point.hazard, self.columns)
        if self.ties == "breslow":  # nothing is taken off for ties
            return at_risk, np.zeros_like(at_risk)
        return at_risk, self.sets.events.columns_in_cells(point.hazard, self.columns)

    def means(self, point: Point) -> Means:
        """Find the mean columns of those at risk in each cell."""
        at_risk, tied = self.sums(point)
        first, second = self._inverses(point, 1), self._inverses(point, 2)
        return Means(
            (first[0] * at_risk - first[1] * tied) / self.sets.cells.events[:, None],
            second[0] * at_risk - second[1] * tied,
            second[1] * at_risk - second[2] * tied,
        )

    def _information(self, point: Point, sums: tuple[np.ndarray, np.ndarray], weights: np.ndarray | None) -> np.ndarray:
        """Second moments less squared means: of the first, patterns do; of the second, cells."""
        matrix, (at_risk, tied) = self.columns.matrix, sums
        none, once, twice = self._inverses(point, 2)
        if weights is not None:
            none, once, twice = (part * weights[:, None] for part in (none, once, twice))
        means = product(at_risk.T, none * at_risk)
        if self.ties == "efron":
            cross = product(at_risk.T, once * tied)
            means += product(tied.T, twice * tied) - cross - cross.T
        return product(matrix.T, self.expected(point, weights)[:, None] * matrix) - means

    def _inverses(self, point: Point, power: int) -> list[np.ndarray]:
        """(m, 1) sums over each cell's denominators, these to a power below, share to the power 0, 1, 2 above."""
        inverse = self.terms.times / point.denominator**power
        return [self.terms.by_cell(inverse * self.terms.share**times)[:, None] for times in range(3)]
