"""Cox's proportional hazards model on counts: adjusted hazard ratios with limits."""

from dataclasses import dataclass, field
from math import erfc, exp, sqrt

import numpy as np

from regdash.errors import ModelError
from regdash.stats.cox_counts import PatternCounts
from regdash.stats.design import Design
from regdash.stats.incidence import Columns
from regdash.stats.limits import z_score
from regdash.stats.newton import maximise
from regdash.stats.partial_likelihood import PartialLikelihood, Point, Ties
from regdash.stats.products import product
from regdash.stats.risk_sets import risk_sets

LARGEST = 700.0  # logarithm of the largest limit that a number can hold


@dataclass(frozen=True)
class HazardRatio:
    """One hazard ratio. What is not defined is None, and the note says why."""

    name: str
    ratio: float | None
    lower: float | None
    upper: float | None
    log_se: float | None  # standard error of its logarithm
    p: float | None  # two-sided
    note: str | None = None


def wald_ratio(name: str, log_ratio: float, se: float, level: float) -> HazardRatio:
    """Make a hazard ratio of its logarithm and the standard error of that."""
    width = z_score(level) * se
    p = erfc(abs(log_ratio) / se / sqrt(2)) if se > 0 else None
    far = log_ratio + width > LARGEST
    upper = None if far else exp(log_ratio + width)
    return HazardRatio(
        name, exp(log_ratio), exp(log_ratio - width), upper, se, p, "no upper limit can be stated" if far else None
    )


@dataclass(frozen=True)
class LeftOut:
    """A column that has no coefficient."""

    name: str
    note: str


@dataclass(frozen=True, eq=False)
class Scaled:
    """A likelihood whose columns are centred and of unit spread, which is where arithmetic is best."""

    null: PartialLikelihood  # of no columns
    likelihood: PartialLikelihood
    centre: np.ndarray  # (K,)
    scale: np.ndarray  # (K,)

    def coef(self, point: Point) -> np.ndarray:
        """(K,) coefficients per unit of the columns as given."""
        return point.coef / self.scale

    def covariance(self, covariance: np.ndarray) -> np.ndarray:
        """(K, K) their covariance."""
        return (covariance + covariance.T) / (2 * np.outer(self.scale, self.scale))


@dataclass(frozen=True, eq=False)
class CoxFit:
    """Log hazard ratios per unit of each column, with their covariance."""

    design: Design  # the columns that have a coefficient
    coef: np.ndarray  # (K,) log hazard ratios
    covariance: np.ndarray  # (K, K) inverse of the information
    loglik: float
    loglik_null: float  # of no covariates (but the offset and strata)
    events: int
    ties: Ties
    left_out: tuple[LeftOut, ...]
    asked: Design = field(repr=False)  # all columns that were asked for
    counts: PatternCounts = field(repr=False)
    scaled: Scaled = field(repr=False)
    point: Point = field(repr=False)  # of the scaled likelihood, at its highest

    @property
    def se(self) -> np.ndarray:
        """(K,) standard errors of the coefficients."""
        return np.sqrt(np.diag(self.covariance))

    def ratios(self, level: float = 0.95, covariance: np.ndarray | None = None) -> tuple[HazardRatio, ...]:
        """
        Give the hazard ratio of each column that was asked for, with Wald limits.

        Args:
            covariance: (K, K) another one, as from `robust_covariance`.
        """
        unit = dict(zip(self.design.names, np.eye(len(self.coef)), strict=True))
        notes = {left.name: left.note for left in self.left_out}
        return tuple(
            HazardRatio(name, None, None, None, None, None, notes[name])
            if name in notes
            else self.ratio(name, unit[name], level, covariance)
            for name in self.asked.names
        )

    def ratio(
        self, name: str, weights: np.ndarray, level: float = 0.95, covariance: np.ndarray | None = None
    ) -> HazardRatio:
        """
        Give the hazard ratio between two patterns, named by the caller.

        Args:
            weights: (K,) the one's columns less the other's.
        """
        covariance = self.covariance if covariance is None else covariance
        se = sqrt(max(float(weights @ covariance @ weights), 0.0))
        return wald_ratio(name, float(weights @ self.coef), se, level)

    def hazards(self, design: Design) -> np.ndarray:
        """
        Find the hazards of other patterns, relative to the centre of this fit's columns; 0 in a level without events.

        Args:
            design: (Q, ...) the columns that were asked for, for these patterns.

        Raises:
            ModelError: a column of the model is not in the design.
        """
        place = {name: number for number, name in enumerate(design.names)}
        for name in self.asked.names:
            if name not in place:
                raise ModelError(f"The model's column '{name}' is missing from the patterns to predict.")
        matrix = design.matrix[:, [place[name] for name in self.design.names]]
        dead = design.matrix[:, [place[left.name] for left in self.left_out]].any(axis=1)
        return np.where(dead, 0.0, np.exp(product(matrix - self.scaled.centre, self.coef)))

    def between(self, one: str, other: str, level: float = 0.95, covariance: np.ndarray | None = None) -> HazardRatio:
        """
        Give the hazard ratio of two columns, such as two levels of one covariate, neither of them the reference.

        Raises:
            ModelError: a column that has no coefficient.
        """
        for name in (one, other):
            if name not in self.design.names:
                raise ModelError(f"The model has no coefficient for '{name}', only for {', '.join(self.design.names)}.")
        weights = np.zeros(len(self.coef))
        weights[self.design.names.index(one)] += 1
        weights[self.design.names.index(other)] -= 1
        return self.ratio(f"{one} against {other}", weights, level, covariance)


def cox(counts: PatternCounts, design: Design, ties: Ties = "efron", offset: np.ndarray | None = None) -> CoxFit:
    """
    Estimate hazard ratios with each joint's stratum having a baseline hazard of its own.

    A level without events has no ratio: its hazard is 0, its joints are out of all comparisons, and
    the others' ratios are what they tend to as its own goes to 0.

    Args:
        counts: joints by covariate pattern, day and event; strata and entries are theirs.
        design: a row of covariates for each pattern.
        ties: how events on one day are ordered.
        offset: (patterns,) log hazard that is known already.

    Raises:
        ModelError: no events, one level only, collinear columns, a reference without events, or a
            likelihood that rises without end.

    Source:
        Cox (1972), JRSS B 34:187-220. Ties: Efron (1977), JASA 72:557-565; Breslow (1974),
        Biometrics 30:89-99.

    >>> counts = PatternCounts(2, [0, 1, 0, 1], [1, 1, 9, 9], [1, 1, 0, 0], [1, 3, 4, 2])  # of 5 and 5, 1 and 3
    >>> fit = cox(counts, Design(("new",), ("new",), [[0], [1]]), "breslow")
    >>> round(fit.ratios()[0].ratio, 9)
    3.0
    """
    offset = checked_offset(counts, design, offset)
    joints, observed = counts.by_pattern(), counts.events_by_pattern()
    if not observed.any():
        raise ModelError(f"None of {int(joints.sum()):,} joints has the event, so there is no ratio to estimate.")
    kept, live, left_out = _with_events(design, observed, joints)
    sets, part = risk_sets(counts), design.only(kept)
    null = PartialLikelihood(sets, Columns(part.matrix[:, :0]), ties, offset)
    scaled = scaled_likelihood(null, part, joints, live)
    top = maximise(scaled.likelihood, np.zeros(len(part.names)), part.names)
    return CoxFit(
        design=part,
        coef=scaled.coef(top.point),
        covariance=scaled.covariance(np.linalg.inv(top.information)),
        loglik=top.point.loglik,
        loglik_null=scaled.null.at(np.zeros(0)).loglik,
        events=int(observed.sum()),
        ties=ties,
        left_out=left_out,
        asked=design,
        counts=counts,
        scaled=scaled,
        point=top.point,
    )


def checked_offset(counts: PatternCounts, design: Design, offset: np.ndarray | None) -> np.ndarray:
    """
    Check that counts, design and offset are of the same patterns; give the offset, or none as zeros.

    Raises:
        ModelError: they are not, or there is no covariate.
    """
    if len(design.matrix) != counts.patterns:
        raise ModelError(
            f"The design has {len(design.matrix):,} rows for {counts.patterns:,} covariate patterns. Give one row each."
        )
    if not design.names:
        raise ModelError("A model needs at least one covariate.")
    offset = np.zeros(counts.patterns) if offset is None else np.asarray(offset, dtype=float)
    if offset.shape != (counts.patterns,) or not np.isfinite(offset).all():
        raise ModelError(f"The offset must be one finite number for each of {counts.patterns:,} patterns.")
    return offset


def _with_events(
    design: Design, observed: np.ndarray, joints: np.ndarray
) -> tuple[np.ndarray, np.ndarray | None, tuple[LeftOut, ...]]:
    """
    Find the columns that can have a coefficient, and the patterns whose hazard is not 0.

    Raises:
        ModelError: a reference without events, to which no ratio exists.
    """
    matrix = design.matrix
    having, with_event = (product(matrix.T, each.astype(float)) for each in (joints, observed))
    is_level = np.all((matrix == 0) | (matrix == 1), axis=0) & (having > 0)
    empty = is_level & (with_event == 0)
    for term in dict.fromkeys(design.terms):
        columns = design.places(term)
        if is_level[columns].all() and not empty[columns].all():
            reference = ~matrix[:, columns].any(axis=1)
            if joints[reference].any() and not observed[reference].any():
                raise ModelError(
                    f"The reference of '{term}' has no events among its {int(joints[reference].sum()):,} joints, so no "
                    "ratio to it exists. Choose another reference, or use Firth's penalty."
                )
    if empty.all():
        raise ModelError("No level but the references has an event, so there is no ratio to estimate. Merge levels.")
    left_out = tuple(
        LeftOut(design.names[k], f"no events among its {int(having[k]):,} joints")
        for k in np.flatnonzero(empty).tolist()
    )
    live = None if not empty.any() else np.logical_not(matrix[:, empty].any(axis=1))
    return ~empty, live, left_out


def scaled_likelihood(
    null: PartialLikelihood, design: Design, joints: np.ndarray, live: np.ndarray | None = None
) -> Scaled:
    """
    Centre and scale a design's columns, (patterns,) joints counting, and make its likelihood.

    Raises:
        ModelError: a column with one value only.
    """
    weights = joints if live is None else joints * live
    for name, column in zip(design.names, design.matrix.T, strict=True):
        if np.ptp(column[weights > 0]) == 0:
            raise ModelError(
                f"'{name}' has one value only among these joints, so there is nothing to compare. Leave it out."
            )
    share = weights / weights.sum()
    centre = product(design.matrix.T, share)
    scale = np.sqrt(product(((design.matrix - centre) ** 2).T, share))
    columns = Columns((design.matrix - centre) / scale)
    return Scaled(null, PartialLikelihood(null.sets, columns, null.ties, null.offset, live), centre, scale)
