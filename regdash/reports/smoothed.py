"""The model behind a curve along a field of numbers, and its tests."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property, partial

import numpy as np

from regdash.errors import ModelError, NoTopError
from regdash.grouping import Grouping
from regdash.reports import wording
from regdash.reports.compared_tests import PROPORTIONALITY, made
from regdash.reports.comparison import columns_of
from regdash.reports.model import TestRow
from regdash.reports.patterns import Covariate, Patterns
from regdash.reports.smooth_rows import Along
from regdash.stats.chi_square import ChiSquareTest
from regdash.stats.cox import CoxFit, HazardRatio, cox
from regdash.stats.cox_counts import PatternCounts, pattern_counts
from regdash.stats.cox_tests import likelihood_ratio_test, wald_test
from regdash.stats.design import Design
from regdash.stats.proportionality import proportionality
from regdash.stats.spline import spline
from regdash.stats.spline_ratios import bending_test, spline_ratios

ASSOCIATION, NON_LINEARITY = "association", "non-linearity"


@dataclass(frozen=True, eq=False)
class Smoothed:
    """A curve along a field, and what is adjusted for."""

    patterns: Patterns
    along: Along
    others: tuple[Covariate, ...]  # those adjusted for that differ between joints
    counts: PatternCounts
    design: Design

    @property
    def key(self) -> str:
        """The field, which is the model's term too."""
        return self.along.field.field.key

    @cached_property
    def fit(self) -> CoxFit:
        """
        The model.

        Raises:
            ModelError: no revisions, fields that say the same, or a hazard that is endlessly far from the reference.
        """
        try:
            return cox(self.counts, self.design)
        except NoTopError as error:
            beside = ", or adjust for less" if self.others else ""
            raise ModelError(
                f"There is no curve: the ratio to the reference has no end, as where all revisions are at few values "
                f"of {self.key}. Take fewer knots{beside}, or widen the filter."
            ) from error

    @cached_property
    def covariance(self) -> np.ndarray | None:
        """(K, K) robust covariance of its coefficients; None where joints are independent."""
        clusters = self.patterns.clusters
        return None if clusters is None else clusters.covariance(self.fit, clusters.rows)

    def ratios(self, values: Sequence[float], level: float) -> tuple[HazardRatio, ...]:
        """Read the curve at some values."""
        own = self.along
        at, reference = own.field.scaled(np.array(values)), float(own.field.scaled(np.array([own.reference]))[0])
        return spline_ratios(self.fit, self.key, own.scaled_knots, at, reference, level, self.covariance)

    def not_adjusted(self, adjust: Sequence[Grouping]) -> list[str]:
        """Say which fields were named and say nothing: the curve's own, and those that are alike in all joints."""
        there = {covariate.key for covariate in self.others}
        keys = [grouping.field.key for grouping in adjust]
        alike = [key for key in keys if key not in there and key != self.key]
        said = [wording.not_adjusted([self.key], "makes the curve")] if self.key in keys else []
        return said + ([wording.not_adjusted(alike, "is alike in all joints")] if alike else [])


def smoothed(patterns: Patterns, own: Along) -> Smoothed:
    """Lay the model out. A covariate with one level only says nothing, and is left out."""
    clusters = patterns.clusters
    counts = pattern_counts(patterns.table) if clusters is None else clusters.counts(len(patterns.group))
    others = tuple(covariate for covariate in patterns.covariates[1:] if len(covariate.labels) > 1)
    events = counts.events_by_pattern()
    curve = spline(own.field.field.key, own.field.scaled(own.values), own.scaled_knots)
    design = curve.beside(*(columns_of(covariate, events) for covariate in others))
    return Smoothed(patterns, own, others, counts, design)


def tested_rows(asked: Smoothed, adjusted: str, why: str | None) -> tuple[TestRow, ...]:
    """
    Test whether there is any association, whether it bends, and whether it lasts.

    Args:
        adjusted: what is adjusted for, in words; empty where nothing is.
        why: nothing is tested, and for what reason.
    """
    key, clusters = asked.key, asked.patterns.clusters
    held = f"adjusted for {adjusted}" if adjusted else "not adjusted"
    how = "likelihood ratio" if clusters is None else f"Wald, by the scatter of {clusters.kind}s"
    independent = "" if clusters is None else "; joints taken as independent"
    return (
        made(ASSOCIATION, f"does the hazard go with {key}, {held}? {how}", partial(_associated, asked), why),
        made(NON_LINEARITY, f"does it bend along {asked.along.field.scale}? {how}", partial(_bent, asked), why),
        made(
            PROPORTIONALITY,
            f"does the curve change with time since implantation?{independent}",
            lambda: dict(proportionality(asked.fit).terms)[key],
            why,
        ),
    )


def _associated(asked: Smoothed) -> ChiSquareTest:
    if asked.covariance is None:
        return likelihood_ratio_test(asked.fit, asked.key)
    return wald_test(asked.fit, asked.key, covariance=asked.covariance)


def _bent(asked: Smoothed) -> ChiSquareTest:
    return bending_test(asked.fit, asked.key, asked.along.scaled_knots, asked.covariance)
