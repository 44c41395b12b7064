"""The day by which a proportion is revised, against R and lifelines."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from regdash.stats.aalen_johansen import aalen_johansen
from regdash.stats.kaplan_meier import NetRisk, kaplan_meier
from regdash.stats.quantiles import NO_UPPER, NOT_REACHED, times_to_risk
from tests.stats import plain
from tests.stats.cases import counts_of, joints_of, rows_of

some_joints = st.lists(st.tuples(st.integers(0, 6), st.sampled_from([0, 2])), min_size=1, max_size=25)


def net_of(joints: list[tuple[int, int]]) -> NetRisk:
    counts = counts_of(joints)
    return kaplan_meier(counts.days, counts.revised, counts.left)


@pytest.mark.parametrize("celltype", ["squamous", "smallcell", "adeno", "large"])
def test_quartiles_and_their_limits_are_those_of_r(celltype: str) -> None:
    net = net_of(joints_of(rows_of("data_veteran", celltype=celltype), "time", "status", {"0": 0, "1": 2}))
    expected = rows_of("km_veteran_quantiles", group=celltype)
    found = times_to_risk(net.steps, [float(row["p"]) for row in expected])
    assert len(found) == 3
    for row, time in zip(expected, found, strict=True):
        assert (time.day, time.lower, time.upper) == tuple(float(row[k]) for k in ("quantile", "lower", "upper"))


def test_medians_of_the_remission_trial_are_those_of_the_textbooks() -> None:
    """Freireich et al. (1963): 23 weeks with 6-MP, 8 with placebo (Kalbfleisch & Prentice; Klein & Moeschberger)."""
    days = {}
    for group in ("6-MP", "placebo"):
        net = net_of(joints_of(rows_of("data_remission", group=group), "time", "status", {"0": 0, "1": 2}))
        days[group] = times_to_risk(net.steps, [0.5])[0].day
    assert days == {"6-MP": 23, "placebo": 8}


@pytest.mark.parametrize(
    ("data", "time", "status", "event"),
    [
        ("data_flchain", "futime", "death", "1"),
        ("data_veteran", "time", "status", "1"),
        ("data_lung", "time", "status", "2"),
    ],
)
def test_days_are_those_of_lifelines_where_no_step_ends_at_just_that_risk(
    data: str, time: str, status: str, event: str
) -> None:
    from lifelines import KaplanMeierFitter
    from lifelines.utils import qth_survival_time

    joints = [(int(row[time]), 2 * (row[status] == event)) for row in rows_of(data)]
    other = KaplanMeierFitter().fit([day for day, _ in joints], [how > 0 for _, how in joints])
    risks = [0.013, 0.057, 0.111, 0.23]
    found = times_to_risk(net_of(joints).steps, risks)
    assert [each.day for each in found] == [qth_survival_time(1 - risk, other.survival_function_) for risk in risks]


def test_a_curve_flat_at_the_risk_gives_the_middle_and_at_its_end_up_to_the_last_day_of_follow_up() -> None:
    net = net_of([(2, 2), (6, 2), (11, 0), (11, 0)])
    assert [time.day for time in times_to_risk(net.steps, [0.25, 0.5])] == [4, 8.5]


def test_a_product_that_misses_the_risk_by_rounding_is_taken_as_that_risk() -> None:
    """Of 10 joints one goes a day: 9/10 × 8/9 × 7/8 is 0.7, but not to the last bit."""
    net = net_of([(day, 2) for day in range(1, 4)] + [(9, 2)] * 7)
    assert times_to_risk(net.steps, [0.3])[0].day == 6


def test_a_risk_that_is_not_reached_has_no_day_and_says_so() -> None:
    net = net_of([(5, 2)] * 10 + [(90, 0)] * 90)
    (early, late) = times_to_risk(net.steps, [0.1, 0.5])
    assert (late.day, late.lower, late.upper, late.note) == (None, None, None, NOT_REACHED)
    assert (early.day, early.lower, early.upper, early.note) == (47.5, 5, None, NO_UPPER)


def test_the_incidence_of_a_reason_has_its_days_too() -> None:
    found = aalen_johansen(np.array([3, 8, 20]), np.array([[0, 10], [5, 5], [0, 0]]), np.array([10, 10, 80]))
    assert [time.day for time in times_to_risk(found.of(1), [0.05, 0.12])] == [3, 8]


@pytest.mark.parametrize("risk", [0, 1, -0.1, float("nan")])
def test_a_risk_that_is_none_is_refused(risk: float) -> None:
    with pytest.raises(ValueError, match="between 0 and 1"):
        times_to_risk(net_of([(1, 2)]).steps, [risk])


@given(some_joints, st.integers(1, 19))
def test_the_day_is_the_first_on_which_the_plain_curve_gets_there(
    joints: list[tuple[int, int]], twentieths: int
) -> None:
    risk, last = twentieths / 20, max(day for day, _ in joints)
    curve = [1 - float(plain.event_free(joints, {2}, day)) for day in range(last + 1)]
    there = [day for day, value in enumerate(curve) if value >= risk - 1e-9]
    beyond = [day for day, value in enumerate(curve) if value >= risk + 1e-9]
    (found,) = times_to_risk(net_of(joints).steps, [risk])
    if not there:
        assert found.day is None
    else:
        assert found.day == (there[0] + (beyond[0] if beyond else last)) / 2


@given(some_joints)
def test_limits_hold_the_day_between_them_and_later_risks_come_later(joints: list[tuple[int, int]]) -> None:
    found = times_to_risk(net_of(joints).steps, [0.1, 0.3, 0.5, 0.9])
    for time in found:
        assert time.lower is None or time.day is None or time.lower <= time.day
        assert time.upper is None or (time.day is not None and time.day <= time.upper)
    reached = [time.day for time in found if time.day is not None]
    assert reached == sorted(reached)
    assert_allclose([time.risk for time in found], [0.1, 0.3, 0.5, 0.9])
