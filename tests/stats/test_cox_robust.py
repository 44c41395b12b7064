"""Covariance by cluster against R; against a plain one in test_cox_agrees."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from regdash.errors import CountError
from regdash.stats.cox_robust import robust_covariance
from regdash.stats.cox_tests import wald_test
from tests.stats.cases import rows_of, values_of
from tests.stats.cox_cases import column, diabetic, heart


def test_two_eyes_of_a_person_are_a_cluster_as_in_r() -> None:
    # R: coxph(Surv(time, status) ~ trt + I(laser == "argon") + risk + cluster(id), diabetic); two eyes as two joints.
    fit, rows = diabetic(), rows_of("data_diabetic")
    covariance = robust_covariance(fit, column(rows, "id"))
    expected, (whole,) = (
        rows_of("cox_coefficients", model="diabetic_cluster"),
        rows_of("cox_fit", model="diabetic_cluster"),
    )
    assert_allclose(np.sqrt(np.diag(covariance)), values_of(expected, "se_robust"), rtol=1e-10)
    assert_allclose(wald_test(fit, covariance=covariance).statistic, float(whole["wald_test"]), rtol=1e-10)
    for row, ratio in zip(expected, fit.ratios(covariance=covariance), strict=True):
        found = [ratio.ratio, ratio.lower, ratio.upper, ratio.p]
        assert_allclose(found, [float(row[name]) for name in ("hr", "lower95", "upper95", "p")], rtol=1e-8)


def test_one_cluster_for_all_leaves_no_scatter() -> None:
    # The score is 0 at the top, so that all joints together pull nowhere.
    fit = diabetic()
    covariance = robust_covariance(fit, np.zeros(394, dtype=int))
    assert_allclose(covariance, 0, atol=1e-12)


def test_rows_of_one_patient_are_one_cluster_with_their_entries() -> None:
    # Cut into two rows at a transplant or not: a patient's rows together pull as one.
    fit, rows = heart(), rows_of("data_heart")
    patient = column(rows, "id")
    by_patient = robust_covariance(fit, patient, patient)
    by_row = robust_covariance(fit, np.arange(len(rows)), np.arange(len(rows)))
    assert len(set(patient)) == 103
    assert np.all(np.abs(by_patient - by_row).max() > 1e-4)


def test_clusters_that_do_not_match_the_counts_are_refused() -> None:
    with pytest.raises(CountError, match="394 rows of counts need a cluster each, but 3 have one"):
        robust_covariance(diabetic(), np.arange(3))
    with pytest.raises(CountError, match="172 entries need a cluster each, but 0 have one"):
        robust_covariance(heart(), np.arange(172))
