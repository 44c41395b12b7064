"""The test of proportional hazards against R 4.2.2, survival 3.5-3; against a plain one in test_cox_agrees."""

import pytest
from numpy.testing import assert_allclose

from regdash.errors import ModelError
from regdash.stats.cox import cox
from regdash.stats.cox_counts import PatternCounts
from regdash.stats.design import linear
from regdash.stats.proportionality import Clock, proportionality
from regdash.stats.time_split import split_at
from tests.stats.cases import rows_of, values_of
from tests.stats.cox_cases import flchain, veteran


@pytest.mark.parametrize("clock", ["identity", "km", "log", "rank"])
def test_each_term_and_all_together_are_those_of_r(clock: Clock) -> None:
    # R: cox.zph(coxph(Surv(time, status) ~ factor(trt) + celltype + karno + age + factor(prior), veteran), clock).
    found = proportionality(veteran(), clock)
    expected = rows_of("cox_zph_veteran", transform=clock)
    tests = [test for _, test in found.terms] + [found.together]
    assert [term for term, _ in found.terms] == ["trt", "celltype", "karno", "age", "prior"]
    assert [test.df for test in tests] == values_of(expected, "df")
    assert_allclose([test.statistic for test in tests], values_of(expected, "chisq"), rtol=1e-8)
    assert_allclose([test.p for test in tests], values_of(expected, "p"), rtol=1e-8)


def test_events_on_day_0_have_no_logarithm() -> None:
    with pytest.raises(ModelError, match="logarithm of day 0"):
        proportionality(flchain(), "log")
    assert proportionality(flchain(), "km").together.df == 11


def test_one_day_of_events_shows_no_change() -> None:
    counts = PatternCounts(2, [0, 1, 0, 1], [5, 5, 9, 9], [1, 1, 0, 0], [2, 3, 4, 2])
    with pytest.raises(ModelError, match=r"Too few days have events to tell whether .* for new"):
        proportionality(cox(counts, linear("new", [0, 1])))


@pytest.mark.parametrize("clock", ["identity", "km", "log"])
def test_windows_without_terms_of_their_own_change_nothing(clock: Clock) -> None:
    fit = veteran()
    split = split_at(fit.counts, [90, 180])
    again = cox(split.counts, split.constant(fit.asked))
    expected = [test.statistic for _, test in proportionality(fit, clock).terms]
    assert_allclose([test.statistic for _, test in proportionality(again, clock).terms], expected, rtol=1e-7)
