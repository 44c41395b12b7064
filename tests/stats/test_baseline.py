"""Baseline hazard against R; against a plain one in test_cox_agrees."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from regdash.stats.baseline import baseline_hazard
from regdash.stats.cox import cox
from tests.stats.cases import rows_of, values_of
from tests.stats.cox_cases import column, counts_of_rows, flchain, levels, numbers, veteran


@pytest.mark.parametrize("ties", ["efron", "breslow"])
def test_cumulative_hazard_is_that_of_r(ties: str) -> None:
    # R: basehaz(coxph(Surv(time, status) ~ factor(trt) + karno, veteran, ties), centered = FALSE).
    rows = rows_of("data_veteran")
    counts = counts_of_rows(column(rows, "time"), column(rows, "status"))
    fit = cox(counts, levels(rows, "trt", ("1", "2")).beside(numbers(rows, "karno")), ties)  # type: ignore[arg-type]
    (found,) = baseline_hazard(fit)
    expected = rows_of("cox_basehaz_veteran", ties=ties)
    assert_allclose(found.at(column(expected, "time").astype(int)), values_of(expected, "hazard"), rtol=1e-10)
    assert found.at([0]).tolist() == [0]
    assert int(found.events.sum()) == 128


def test_breslow_s_expected_events_add_up_to_those_observed() -> None:
    # A property of Breslow's estimator; deaths on day 0 are among them.
    fit = flchain("breslow")
    (baseline,) = baseline_hazard(fit)
    assert baseline.days[0] == 0
    expected = baseline.at(fit.counts.day) * np.exp(fit.design.matrix @ fit.coef)
    assert_allclose(expected.sum(), 2169, rtol=1e-10)


def test_each_stratum_has_a_baseline_of_its_own() -> None:
    fit = veteran(by_cell=True)
    found = baseline_hazard(fit)
    assert [one.stratum for one in found] == [0, 1, 2, 3]
    for one in found:
        of = fit.counts.strata == one.stratum
        assert one.days.tolist() == sorted(set(fit.counts.day[of & (fit.counts.event == 1)]))
