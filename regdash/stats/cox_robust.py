"""The covariance of a Cox model's coefficients where joints of one patient, surgeon or hospital resemble each other."""

import numpy as np

from regdash.errors import CountError
from regdash.stats.counts import whole_numbers
from regdash.stats.cox import CoxFit
from regdash.stats.design import distinct_patterns
from regdash.stats.products import product


def robust_covariance(fit: CoxFit, cluster: np.ndarray, entered_cluster: np.ndarray | None = None) -> np.ndarray:
    """
    Let the scatter of the clusters, not the model, say how sure the coefficients are.

    It needs many clusters: with fewer than about 30 it comes out too small.

    Args:
        fit: a model whose counts have a row for each cluster's joints of a pattern and day.
        cluster: (r,) int, the cluster of each row of the fit's counts.
        entered_cluster: (e,) int, the cluster of each row of their entries.

    Returns:
        (K, K) covariance, for `ratios` and `wald_test`.

    Raises:
        CountError: not one cluster a row.

    Source:
        Lin & Wei (1989), JASA 84:1074-1078; score residuals with Efron's ties as in Therneau & Grambsch
        (2000), Modeling Survival Data, section 7.1.
    """
    number, clusters = _numbered(fit, cluster, entered_cluster)
    sets, point, matrix = fit.scaled.likelihood.sets, fit.point, fit.scaled.likelihood.columns.matrix
    hit = np.flatnonzero(fit.counts.event if fit.counts.joints is None else fit.counts.event * fit.counts.joints)
    events, rows = sets.events, sets.rows
    means = fit.scaled.likelihood.means(point)
    weight = rows.gathered(point.hazard)
    exposure = weight * sets.cells.up_to(point.in_risk_set)[rows.place]
    tied = point.hazard[events.pattern] * events.joints
    residuals = np.empty((clusters, matrix.shape[1]))
    for k, column in enumerate(matrix.T):
        followed = weight * sets.cells.up_to(means.in_risk_set[:, k])[rows.place] - exposure * column[rows.pattern]
        own = column[events.pattern]
        having = events.joints * (own - means.at_events[events.cell, k])
        having += tied * (own * point.in_ties[events.cell] - means.in_ties[events.cell, k])
        residuals[:, k] = np.bincount(number, followed, clusters) + np.bincount(number[hit], having, clusters)
    own = fit.covariance * np.outer(fit.scaled.scale, fit.scaled.scale)
    return fit.scaled.covariance(own @ product(residuals.T, residuals) @ own)


def _numbered(fit: CoxFit, cluster: np.ndarray, entered: np.ndarray | None) -> tuple[np.ndarray, int]:
    """Number the clusters of the counts' rows, then of their entries."""
    given, entries = whole_numbers("clusters", cluster), fit.counts.entered
    if len(given) != len(fit.counts.day):
        raise CountError(f"{len(fit.counts.day):,} rows of counts need a cluster each, but {len(given):,} have one.")
    if entries is not None:
        late = whole_numbers("clusters of entries", np.zeros(0, dtype=np.int64) if entered is None else entered)
        if len(late) != len(entries.day):
            raise CountError(f"{len(entries.day):,} entries need a cluster each, but {len(late):,} have one.")
        given = np.concatenate([given, late])
    number, labels = distinct_patterns([given], [int(given.max(initial=0)) + 1])
    return number, len(labels)
