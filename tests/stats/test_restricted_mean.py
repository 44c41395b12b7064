"""Restricted means against R and lifelines, and their differences."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from regdash.errors import ModelError
from regdash.stats.difference import RATIO_NEEDS_EVENTS
from regdash.stats.kaplan_meier import NetRisk, kaplan_meier
from regdash.stats.limits import NO_FOLLOW_UP
from regdash.stats.restricted_mean import NONE_YET, mean_difference, mean_ratio, restricted_mean
from tests.stats import plain_influence
from tests.stats.cases import counts_of, rows_of

Z95 = 1.959963984540054
SOURCES = {  # data, group's column, time, status, the event
    "veteran": ("data_veteran", "celltype", "time", "status", "1"),
    "lung": ("data_lung", "sex", "time", "status", "2"),
    "aml": ("data_aml", "x", "time", "status", "1"),
    "flchain": ("data_flchain", "sex", "futime", "death", "1"),
    "colon_death": ("data_colon_death", "rx", "time", "status", "1"),
}

some_joints = st.lists(st.tuples(st.integers(0, 6), st.sampled_from([0, 2])), min_size=1, max_size=20)


def net_of(joints: list[tuple[int, int]]) -> NetRisk:
    counts = counts_of(joints)
    return kaplan_meier(counts.days, counts.revised, counts.left)


def net_of_source(source: str, group: str) -> NetRisk:
    data, column, time, status, event = SOURCES[source]
    rows = rows_of(data, **{column: group})
    return net_of([(int(row[time]), 2 * (row[status] == event)) for row in rows])


@pytest.mark.parametrize("row", rows_of("rmst"), ids=lambda row: f"{row['data']} {row['group']} {row['tau']}")
def test_means_and_standard_errors_are_those_of_r(row: dict[str, str]) -> None:
    found = restricted_mean(net_of_source(row["data"], row["group"]), int(row["tau"]))
    mean, se = float(row["rmst"]), float(row["se"])
    assert_allclose([found.mean, found.se], [mean, se], rtol=1e-12)
    assert_allclose([found.lower, found.upper], [mean - Z95 * se, mean + Z95 * se], rtol=1e-12)


def test_the_first_100_days_of_the_veterans_come_out() -> None:
    """Digits: R and a plain program agreed."""
    expected = {"squamous": (73.2285714285714, 6.38915167853102), "smallcell": (51.4965277777778, 5.19849696)}
    expected |= {"adeno": (55.8024691358025, 6.85156473), "large": (83.0740740740741, 5.75659124)}
    for celltype, (mean, se) in expected.items():
        found = restricted_mean(net_of_source("veteran", celltype), 100)
        assert_allclose([found.mean, found.se], [mean, se], rtol=1e-8)


@pytest.mark.parametrize("end", [30, 100, 365])
def test_the_mean_is_that_of_lifelines(end: int) -> None:
    """Its "variance" is that of min(T, end), another quantity, and is not compared."""
    from lifelines import KaplanMeierFitter
    from lifelines.utils import restricted_mean_survival_time

    rows = rows_of("data_veteran", celltype="squamous")
    other = KaplanMeierFitter().fit([int(row["time"]) for row in rows], [row["status"] == "1" for row in rows])
    found = restricted_mean(net_of_source("veteran", "squamous"), end)
    assert_allclose(found.mean, restricted_mean_survival_time(other, end), rtol=1e-12)


def test_without_censoring_it_is_the_mean_of_days_cut_off_at_the_end() -> None:
    days = [0, 2, 2, 5, 9, 14, 30, 31]
    found = restricted_mean(net_of([(day, 2) for day in days]), 12)
    cut = np.minimum(days, 12)
    assert_allclose([found.mean, found.se], [cut.mean(), cut.std() / np.sqrt(len(cut))], rtol=1e-12)


def test_before_any_revision_the_mean_is_the_span_and_its_lower_limit_comes_from_the_exact_bound() -> None:
    found = restricted_mean(net_of([(100, 0)] * 10), 50)
    assert (found.mean, found.se, found.upper, found.note) == (50, None, 50, NONE_YET)
    assert_allclose(found.lower, 50 * (1 - 0.308497107818761), rtol=1e-12)  # binom.test(0, 10)$conf.int[2]


def test_a_revision_on_the_last_day_of_the_span_takes_nothing_off() -> None:
    found = restricted_mean(net_of([(50, 2)] * 3 + [(100, 0)] * 7), 50)
    assert (found.mean, found.events, found.note) == (50, 3, NONE_YET)


def test_a_span_that_nobody_was_followed_to_has_no_mean() -> None:
    found = restricted_mean(net_of([(5, 2), (9, 0)]), 10)
    assert (found.mean, found.se, found.lower, found.upper, found.note) == (None, None, None, None, NO_FOLLOW_UP)


def test_a_span_of_no_day_is_refused() -> None:
    with pytest.raises(ValueError, match="at least one day"):
        restricted_mean(net_of([(5, 2)]), 0)


@given(some_joints, st.integers(1, 6))
def test_mean_and_variance_are_the_plain_ones(joints: list[tuple[int, int]], end: int) -> None:
    found = restricted_mean(net_of(joints), end)
    if found.mean is None:
        return
    rows = [(-1, *joint) for joint in joints]
    figure = plain_influence.area({2}, end)
    assert_allclose(found.mean, figure(rows, [complex(1)] * len(rows)).real, rtol=1e-12)
    moves = plain_influence.influences(figure, rows)
    if found.se is None:
        assert all(move == 0 for move in moves)
    else:
        assert_allclose(found.se**2, plain_influence.covariance(moves, moves), rtol=1e-9, atol=1e-14)


def test_the_difference_of_two_means_adds_their_variances() -> None:
    """From R's means and errors of men and women with lung cancer."""
    rows = {row["group"]: row for row in rows_of("rmst", data="lung")}
    men, women = (restricted_mean(net_of_source("lung", sex), 365) for sex in ("1", "2"))
    found = mean_difference(men, women)
    difference = float(rows["1"]["rmst"]) - float(rows["2"]["rmst"])
    se = np.hypot(float(rows["1"]["se"]), float(rows["2"]["se"]))
    assert_allclose([found.difference, found.se], [difference, se], rtol=1e-11)
    assert_allclose([found.lower, found.upper], [difference - Z95 * se, difference + Z95 * se], rtol=1e-11)


def test_the_ratio_of_two_means_has_limits_of_its_logarithm() -> None:
    rows = {row["group"]: row for row in rows_of("rmst", data="lung")}
    men, women = (restricted_mean(net_of_source("lung", sex), 365) for sex in ("1", "2"))
    found = mean_ratio(men, women)
    ratio = float(rows["1"]["rmst"]) / float(rows["2"]["rmst"])
    width = Z95 * np.hypot(*(float(rows[sex]["se"]) / float(rows[sex]["rmst"]) for sex in ("1", "2")))
    assert_allclose([found.ratio, found.lower, found.upper], [ratio, ratio * np.exp(-width), ratio * np.exp(width)])


def test_a_group_without_revisions_leaves_no_ratio_and_widens_the_difference_on_its_side() -> None:
    some, none = (
        restricted_mean(net_of([(10, 2)] * 5 + [(99, 0)] * 45), 50),
        restricted_mean(net_of([(99, 0)] * 30), 50),
    )
    assert mean_ratio(some, none).note == RATIO_NEEDS_EVENTS
    found = mean_difference(some, none)
    assert found.difference == pytest.approx(-4)
    assert found.lower == pytest.approx(-4 - Z95 * (some.se or 0))  # the other's mean is not above the span
    assert found.upper == pytest.approx(-4 + np.hypot(Z95 * (some.se or 0), 50 * (1 - 0.025 ** (1 / 30))))


def test_means_over_different_spans_are_not_compared() -> None:
    net = net_of([(10, 2)] * 5 + [(99, 0)] * 45)
    with pytest.raises(ModelError, match="over 50 and over 60 days"):
        mean_difference(restricted_mean(net, 50), restricted_mean(net, 60))
