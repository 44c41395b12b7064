"""Windows since implantation: whose is a day on a cut, and what a coefficient by window means."""

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from regdash.errors import ModelError
from regdash.stats.cox import cox
from regdash.stats.cox_counts import PatternCounts
from regdash.stats.design import linear
from regdash.stats.events import Entries
from regdash.stats.partial_likelihood import Ties
from regdash.stats.time_split import split_at
from tests.stats.cases import rows_of
from tests.stats.cox_cases import column, counts_of_rows, numbers, veteran_split


def test_a_day_on_a_cut_belongs_to_the_window_before_it() -> None:
    split = split_at(PatternCounts(1, [0] * 4, [0, 90, 91, 365], [1, 1, 1, 0]), [90, 365])
    assert split.labels == ("days 0 to 90", "days 91 to 365", "from day 366")
    assert split.window[split.counts.pattern[:4]].tolist() == [0, 0, 1, 1]
    assert split.window.tolist() == [0, 1]  # nobody reaches the third
    assert split.counts.entered is not None
    # Two of four go on past day 90, and none past day 365.
    assert (split.counts.entered.day.tolist(), split.counts.entered.joints.tolist()) == ([90], [2])
    assert split.counts.by_pattern().tolist() == [4, 2]


def test_who_enters_on_a_cut_enters_the_window_that_begins_there() -> None:
    counts = PatternCounts(1, [0, 0], [200, 300], [1, 0], entered=Entries([0, 0], [90, 10], [1, 1]))
    split = split_at(counts, [90])
    assert split.counts.entered is not None
    windows = split.window[split.counts.entered.group]
    assert sorted(zip(split.counts.entered.day.tolist(), windows.tolist(), strict=True)) == [(10, 0), (90, 1), (90, 1)]


def test_published_coefficients_by_window_are_found() -> None:
    # R 4.2.2: coxph(Surv(tstart, time, status) ~ trt + prior + karno:strata(tgroup), vet), vet being
    # survSplit(veteran, cut = c(90, 180)); printed as -0.0488, 0.0081 and -0.0083 in the survival package's
    # vignette on time dependence (from memory).
    fit = veteran_split(lambda rows: numbers(rows, "karno"), lambda rows: numbers(rows, "trt", "prior"))
    assert fit.design.names[2:] == ("karno, days 0 to 90", "karno, days 91 to 180", "karno, from day 181")
    assert_allclose(fit.coef[2:], [-0.048754954121, 0.008050434322, -0.008348736398], rtol=1e-9)
    assert_allclose(fit.loglik, -473.929256207, rtol=1e-11)


def test_a_model_by_window_alone_is_the_models_of_each_window() -> None:
    # Each risk set lies within one window, so that windows share nothing but what is held constant.
    rows = rows_of("data_veteran")
    days, died, trt = column(rows, "time").astype(int), column(rows, "status"), linear("trt", column(rows, "trt"))
    split = split_at(counts_of_rows(days, died), [90])
    both = cox(split.counts, split.by_window(trt))
    early = cox(counts_of_rows(np.minimum(days, 90), died * (days <= 90)), trt)
    later = np.flatnonzero(days > 90)
    late = cox(counts_of_rows(days[later], died[later]), trt.of(later))
    assert_allclose(both.coef, [early.coef[0], late.coef[0]], rtol=1e-9)
    assert_allclose(both.se, [early.se[0], late.se[0]], rtol=1e-9)


@pytest.mark.parametrize("ties", ["efron", "breslow"])
@given(
    joints=st.lists(
        st.tuples(st.integers(0, 1), st.integers(0, 2), st.integers(1, 30), st.booleans()), min_size=12, max_size=60
    ),
    windows=st.integers(2, 4),
)
def test_where_every_window_has_the_same_data_an_implant_has_the_same_adjusted_ratio_in_all(
    ties: Ties, joints: list[tuple[int, int, int, bool]], windows: int
) -> None:
    """Each joint is followed once in every window, from its first day on, as the same joint was in the one before."""
    unit, level, stop, event = np.array(joints).T
    every, length = np.arange(len(joints)), 30
    design = linear("implant", unit).beside(linear("age", level))
    try:
        one = cox(PatternCounts(len(every), every, stop, event), design, ties)
    except ModelError:
        assume(False)
    starts = np.repeat(np.arange(windows) * length, len(every))
    late = starts > 0
    entries = Entries(np.tile(every, windows)[late], starts[late], np.ones(int(late.sum()), dtype=int))
    stops = np.tile(stop, windows) + starts
    many = PatternCounts(len(every), np.tile(every, windows), stops, np.tile(event, windows), entered=entries)
    split = split_at(many, [length * number for number in range(1, windows)])
    adjusted = split.by_window(linear("implant", unit)).beside(split.constant(linear("age", level)))
    found = cox(split.counts, adjusted, ties)
    expected = one.ratios()[0]
    for ratio in found.ratios()[:windows]:
        if expected.ratio is None:
            assert ratio.ratio is None
        else:
            assert_allclose(ratio.ratio, expected.ratio, rtol=1e-6)


def test_a_level_without_events_in_one_window_has_no_ratio_there_alone() -> None:
    pattern, days = [0] * 6 + [1] * 6, [10, 20, 120, 130, 140, 999] + [11, 12, 13, 999, 999, 999]
    split = split_at(PatternCounts(2, pattern, days, [day < 999 for day in days]), [90], ("early", "late"))
    early, late = cox(split.counts, split.by_window(linear("new", [0, 1]))).ratios()
    assert early.name == "new, early"
    assert early.ratio is not None
    assert (late.ratio, late.note) == (None, "no events among its 3 joints")


def test_cuts_and_labels_that_make_no_windows_are_refused() -> None:
    counts = PatternCounts(1, [0], [5], [1])
    for cuts in ([], [-1], [90, 90], [180, 90], [0.5]):
        with pytest.raises(ModelError, match="Follow-up is cut after whole days that rise"):
            split_at(counts, cuts)
    with pytest.raises(ModelError, match="1 cuts make 2 windows, but there are 1 labels"):
        split_at(counts, [90], ("early",))
