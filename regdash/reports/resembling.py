"""Whose joints resemble each other (a patient's, a surgeon's, a hospital's), beside the patterns of a model."""

from dataclasses import dataclass

import numpy as np

from regdash import grouping
from regdash.errors import FilterError, ModelError
from regdash.grouping import Grouping
from regdash.stats.cox import CoxFit
from regdash.stats.cox_counts import PatternCounts
from regdash.stats.cox_robust import robust_covariance
from regdash.stats.design import distinct_patterns
from regdash.stats.events import FIRST_REASON
from regdash.stats.split_clusters import RowClusters
from regdash.suggest import nearest

PATIENT = "patient"
KINDS = (PATIENT, "surgeon", "hospital")
FEW = 30  # clusters below which robust limits come out too narrow: Cameron & Miller (2015), J Hum Resour 50:317-372


@dataclass(frozen=True, eq=False)
class Clusters:
    """Joints that left follow-up, by pattern, day, outcome and cluster; those without a known cluster are not here."""

    kind: str  # one of KINDS
    pattern: np.ndarray  # (r,) int64
    day: np.ndarray  # (r,) int64
    outcome: np.ndarray  # (r,) int64
    joints: np.ndarray  # (r,) int64
    number: np.ndarray  # (r,) int64, of the cluster, from 0 to size - 1
    size: int

    @property
    def rows(self) -> RowClusters:
        """The cluster of each row of `counts`."""
        return RowClusters(self.number)

    def counts(self, patterns: int) -> PatternCounts:
        """Count joints for a model, with a row for each cluster's joints of a pattern, day and outcome."""
        event = (self.outcome >= FIRST_REASON).astype(np.int64)
        return PatternCounts(patterns, self.pattern, self.day, event, self.joints)

    def reaching(self, group: np.ndarray, groups: int, days: list[int]) -> np.ndarray:
        """
        Count clusters with a joint that is followed into a window.

        Args:
            group: (P,) the group of each pattern.
            days: on which one window ends; the next begins after it.

        Returns:
            (groups, windows) clusters.
        """
        windows = len(days) + 1
        part, own = distinct_patterns([group[self.pattern], self.number], [groups, max(self.size, 1)])
        last = np.zeros(len(own), dtype=np.int64)
        np.maximum.at(last, part, np.searchsorted(days, self.day, side="left"))
        ended = np.bincount(own[:, 0] * windows + last, minlength=groups * windows)
        return np.cumsum(ended.reshape(groups, windows)[:, ::-1], axis=1)[:, ::-1].astype(np.int64)

    def covariance(self, fit: CoxFit, rows: RowClusters) -> np.ndarray:
        """
        (K, K) covariance of a fit's coefficients by the scatter of these clusters.

        Raises:
            ModelError: as few clusters as coefficients, or fewer: some would seem to be known exactly.
        """
        used, columns = np.count_nonzero(np.bincount(rows.of_rows)), len(fit.coef)
        if used <= columns:
            are = f"{self.kind} is" if used == 1 else f"{self.kind}s are"
            raise ModelError(
                f"{used:,} {are} too few for robust limits of {columns:,} coefficients. Adjust for less, or take "
                "joints as independent."
            )
        return robust_covariance(fit, rows.of_rows, rows.of_entries)


def checked_robust(kind: str | None, by: tuple[Grouping, ...], held: list[Grouping], penalised: bool) -> None:
    """
    Refuse robust limits that there are not.

    Raises:
        FilterError: an unknown kind of cluster, or one that makes the groups or is held alike.
        ModelError: beside Firth's penalty.
    """
    if kind is None:
        return
    if kind not in KINDS:
        raise FilterError(f"Limits are not made robust by {kind}. {nearest(kind, KINDS)}")
    if penalised:
        raise ModelError(
            "Firth's penalty has limits of its own, from the profile of its likelihood, that cannot be made robust. "
            "Ask for one of the two."
        )
    if kind in [g.field.key for g in (*by, *held)]:
        done = "Groups are made by" if kind in [g.field.key for g in by] else "Ratios are adjusted for"
        raise FilterError(
            f"{done} {kind}, so that no scatter of {kind}s is left to make limits robust by. Take another of "
            f"{', '.join(KINDS)}."
        )


def fields_of(kind: str | None) -> tuple[Grouping, ...]:
    """The field that tells a joint's cluster, where a filter knows it."""
    return grouping.parse(kind) if kind and kind != PATIENT else ()


def expressions_of(kind: str | None) -> tuple[str, ...]:
    """SQL on `follow_up` that numbers a joint's cluster; none where joints are independent."""
    return ("patient_no",) if kind == PATIENT else tuple(g.sql() for g in fields_of(kind))
