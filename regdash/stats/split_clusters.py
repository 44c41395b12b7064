"""Follow-up cut into windows with the cluster of every row kept, so that ratios by window may have robust limits."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from regdash.errors import CountError
from regdash.stats.counts import whole_numbers
from regdash.stats.cox_counts import PatternCounts
from regdash.stats.design import distinct_patterns
from regdash.stats.events import Entries
from regdash.stats.time_split import SplitCounts, split_at


@dataclass(frozen=True, eq=False)
class RowClusters:
    """The cluster of each row of a model's counts and of each of their entries, as `robust_covariance` takes them."""

    of_rows: np.ndarray  # (r,) int64
    of_entries: np.ndarray | None = None  # (e,) int64; None: nobody enters late

    def only(self, rows: np.ndarray, entries: np.ndarray) -> "RowClusters":
        """Those of some rows and entries, (r,) and (e,) bool."""
        return RowClusters(self.of_rows[rows], None if self.of_entries is None else self.of_entries[entries])


def split_clusters_at(
    counts: PatternCounts, cluster: np.ndarray, cuts: Sequence[int], labels: Sequence[str] | None = None
) -> tuple[SplitCounts, RowClusters]:
    """
    Cut follow-up as `split_at`, cluster by cluster: the rows of two clusters are never merged.

    Args:
        counts: nobody in them enters late.
        cluster: (r,) int, the cluster of each row of the counts.

    Raises:
        CountError: not one cluster a row, or late entries.
        ModelError: as `split_at`.

    >>> counts = PatternCounts(1, [0, 0], [5, 20], [1, 0], [2, 3])
    >>> split, clusters = split_clusters_at(counts, np.array([7, 8]), [9])
    >>> clusters.of_rows.tolist(), clusters.of_entries.tolist(), split.counts.day.tolist()
    ([7, 8, 8], [8], [5, 20, 9])
    """
    given = whole_numbers("clusters", cluster)
    if len(given) != len(counts.day) or counts.entered is not None:
        raise CountError("Follow-up is split by cluster where each row has one and nobody enters late.")
    number, own = distinct_patterns([given], [int(given.max(initial=0)) + 1])
    cell, cells = distinct_patterns([counts.pattern, number], [counts.patterns, max(len(own), 1)])
    by_cell = PatternCounts(len(cells), cell, counts.day, counts.event, counts.joints)
    split = split_at(by_cell, cuts, labels)
    size = len(split.labels)
    key = cells[split.pattern, 0] * size + split.window
    seen = np.bincount(key, minlength=counts.patterns * size) > 0
    present, place = np.flatnonzero(seen), (np.cumsum(seen) - 1)[key]
    rows, late = split.counts, split.counts.entered
    assert late is not None
    merged = PatternCounts(
        len(present),
        place[rows.pattern],
        rows.day,
        rows.event,
        rows.joints,
        None if counts.stratum is None else counts.stratum[present // size],
        Entries(place[late.group], late.day, late.joints),
        checked=True,
    )
    of_part = own[cells[split.pattern, 1], 0]
    clusters = RowClusters(of_part[rows.pattern], of_part[late.group])
    return SplitCounts(merged, present // size, present % size, split.labels), clusters
