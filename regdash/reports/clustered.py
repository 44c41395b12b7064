"""Risks whose errors hold although both joints of a patient may be in the cohort, and resemble each other."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from regdash.errors import FilterError
from regdash.reports.counted import Counted
from regdash.reports.event import Event
from regdash.reports.model import PATIENT_VIEW
from regdash.stats.clustered import shared_covariance
from regdash.stats.clusters import JointPairs
from regdash.stats.events import EventTable
from regdash.stats.step_curve import StepCurve
from regdash.stats.years import days_in
from regdash.store.event_counts import GroupExpressions
from regdash.store.pair_counts import PairCounts, count_pairs
from regdash.suggest import nearest

PATIENT = "patient"
CLUSTERS = (PATIENT,)


@dataclass(frozen=True, eq=False)
class Clustered:
    """The pairs of joints of one patient behind a risk, and what they are read with."""

    table: EventTable
    event: Event
    view: str
    counts: PairCounts
    landmark: int

    @property
    def pairs(self) -> int:
        """Pairs of joints of one patient, in one group or in two."""
        return int(self.counts.pairs.sum())

    def curve(self, group: int) -> StepCurve:
        """Estimate the risk of one group, with standard errors of patients."""
        own = (self.counts.group == group).all(axis=1)
        counts = self.table.of(group)
        return self.event.clustered_curve(counts, self.table.outcomes, self.view, self._pairs(own))

    def covariance(self, one: int, other: int, years: Sequence[float]) -> np.ndarray:
        """(years,) of the risks of two groups, from patients with a joint in each."""
        first = (self.counts.group == (one, other)).all(axis=1)
        second = (self.counts.group == (other, one)).all(axis=1)
        pairs = self._pairs(first, second)
        days = [days_in(year) for year in years]
        own, others = (
            self.event.influence(self.table.of(n), self.table.outcomes, self.view).by(days) for n in (one, other)
        )
        return shared_covariance(own, others, pairs)

    def _pairs(self, these: np.ndarray, turned: np.ndarray | None = None) -> JointPairs:
        """Take some pairs as they are, and others with their joints the other way round."""
        day, cause = self.counts.day, self.event.cause(self.counts.outcome, self.table.outcomes, self.view)
        taken = [(day[these], cause[these], self.counts.pairs[these])]
        if turned is not None:
            taken.append((day[turned][:, ::-1], cause[turned][:, ::-1], self.counts.pairs[turned]))
        days, causes, pairs = (np.concatenate(column) for column in zip(*taken))
        return JointPairs(days, causes, pairs, self.landmark)


def clustered(counted: Counted, table: EventTable, event: Event, view: str, landmark: float | None) -> Clustered:
    """
    Count the pairs of a cohort's joints.

    Args:
        table: the cohort's own, or that of a landmark.
        landmark: years; only pairs of which both joints are followed longer count.
    """
    by = GroupExpressions(tuple(grouping.sql() for grouping in counted.by))
    compete = view == PATIENT_VIEW
    found = count_pairs(counted.cut, counted.predicate, by, counted.numbers, event.column, counted.endpoint, compete)
    if landmark is None:
        return Clustered(table, event, view, found, -1)
    stay = (found.day > days_in(landmark)).all(axis=1)
    kept = replace(
        found, group=found.group[stay], day=found.day[stay], outcome=found.outcome[stay], pairs=found.pairs[stay]
    )
    return Clustered(table, event, view, kept, days_in(landmark))


def checked_cluster(cluster: str | None) -> None:
    """
    Refuse a cluster that there is not.

    Raises:
        FilterError: with the right ones.
    """
    if cluster is not None and cluster not in CLUSTERS:
        raise FilterError(f"Joints are not clustered by {cluster}. {nearest(cluster, CLUSTERS)}")
