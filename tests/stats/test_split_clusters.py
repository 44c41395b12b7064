"""Windows with clusters kept: the same model as without them, and the plain covariance of joints cut into rows."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from regdash.errors import CountError
from regdash.stats.cox import cox
from regdash.stats.cox_counts import PatternCounts
from regdash.stats.cox_robust import robust_covariance
from regdash.stats.design import linear
from regdash.stats.events import Entries
from regdash.stats.split_clusters import split_clusters_at
from regdash.stats.time_split import split_at
from tests.stats.plain_cox import Joint, information, score_residuals, split

DAYS = [3, 3, 5, 8, 8, 8, 12, 15, 20, 20, 26, 30, 31, 40]
EVENTS = [1, 0, 1, 1, 1, 0, 1, 0, 1, 1, 1, 0, 1, 0]
NEW = [1, 0, 0, 1, 0, 1, 0, 1, 1, 0, 1, 0, 0, 1]
CLUSTER = [4, 4, 9, 1, 9, 9, 2, 2, 4, 7, 7, 1, 5, 5]
CUTS = [8, 20]


def counts() -> PatternCounts:
    """Two patterns, old and new; rows in no order."""
    return PatternCounts(2, NEW, DAYS, EVENTS)


def test_keeping_clusters_apart_changes_no_coefficient() -> None:
    new = linear("new", np.array([0, 1]))
    apart, clusters = split_clusters_at(counts(), np.array(CLUSTER), CUTS)
    merged = split_at(counts(), CUTS)
    assert apart.counts.by_pattern().tolist() == merged.counts.by_pattern().tolist()
    assert (apart.pattern.tolist(), apart.window.tolist()) == (merged.pattern.tolist(), merged.window.tolist())
    ours, theirs = cox(apart.counts, apart.by_window(new)), cox(merged.counts, merged.by_window(new))
    assert_allclose(ours.coef, theirs.coef, rtol=1e-9)
    assert_allclose(ours.covariance, theirs.covariance, rtol=1e-9)
    assert len(clusters.of_rows) == len(apart.counts.day)


def test_robust_covariance_by_window_is_the_plain_one() -> None:
    apart, clusters = split_clusters_at(counts(), np.array(CLUSTER), CUTS)
    fit = cox(apart.counts, apart.by_window(linear("new", np.array([0, 1]))))
    given = [Joint(d, bool(e), (float(x),), cluster=c) for d, e, x, c in zip(DAYS, EVENTS, NEW, CLUSTER)]
    joints = [
        Joint(j.stop, j.event, tuple(j.x[0] * (window == w) for w in range(3)), j.start, cluster=j.cluster)
        for j, window in split(given, CUTS)
    ]
    coef = fit.coef.tolist()
    pulls = {joint.cluster: np.zeros(3) for joint in joints}
    for joint, pull in zip(joints, score_residuals(joints, coef)):
        pulls[joint.cluster] += pull
    scatter = np.stack(list(pulls.values())) @ np.linalg.inv(information(joints, coef))
    found = robust_covariance(fit, clusters.of_rows, clusters.of_entries)
    assert_allclose(found, scatter.T @ scatter, rtol=1e-7, atol=1e-12)


def test_rows_without_a_cluster_and_late_entries_are_refused() -> None:
    with pytest.raises(CountError, match="each row has one and nobody enters late"):
        split_clusters_at(counts(), np.zeros(3, dtype=int), CUTS)
    late = PatternCounts(1, [0], [9], [1], entered=Entries([0], [2], [1]))
    with pytest.raises(CountError, match="nobody enters late"):
        split_clusters_at(late, np.zeros(1, dtype=int), CUTS)
