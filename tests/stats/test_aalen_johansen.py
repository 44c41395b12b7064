"""Cumulative incidence against R and published tables."""

from math import exp, log

import numpy as np
import pytest
from numpy.testing import assert_allclose

from regdash.errors import CountError
from regdash.stats.aalen_johansen import CumulativeIncidence, aalen_johansen
from regdash.stats.kaplan_meier import kaplan_meier
from regdash.stats.limits import EXACT_BOUND, NO_FOLLOW_UP, RiskAt
from regdash.stats.years import days_in
from tests.stats.cases import Row, counts_of, joints_of, rows_of, values_of

Z95 = 1.959963984540054


def incidence_of(rows: list[Row], time: str, status: str, outcomes: dict[str, int]) -> CumulativeIncidence:
    counts = counts_of(joints_of(rows, time, status, outcomes), reasons=max(outcomes.values()) - 1)
    return aalen_johansen(counts.days, counts.competing, counts.left)


def standard_error(found: CumulativeIncidence, cause: int, day: int) -> float:
    row = np.searchsorted(found.days, day, side="right") - 1
    return float(np.sqrt(found.variance[row, cause]))


def check_against_r(found: CumulativeIncidence, cause: int, expected: list[Row]) -> None:
    """
    R's limits are of log(-log F), ours of log(-log(1 - F)): both are worked out here from R's F and
    standard error, the first to see that they are meant so, the second to test ours.
    """
    points = found.at([int(row["time"]) for row in expected], cause)
    assert [point.at_risk for point in points] == values_of(expected, "n_risk")
    assert_allclose([point.risk for point in points], values_of(expected, "cif"), rtol=1e-10)
    for row, point in zip(expected, points, strict=True):
        f, se = float(row["cif"]), float(row["se_ij"])
        assert_allclose(standard_error(found, cause, point.day), se, rtol=1e-10)
        theirs, g = Z95 * se / (f * abs(log(f))), 1 - f
        assert_allclose([f ** exp(theirs), f ** exp(-theirs)], [float(row["lower"]), float(row["upper"])], rtol=1e-9)
        ours = Z95 * se / (g * abs(log(g)))
        assert_allclose([point.lower, point.upper], [1 - g ** exp(-ours), 1 - g ** exp(ours)], rtol=1e-9)


@pytest.mark.parametrize("group", ["all", "F", "M"])
@pytest.mark.parametrize(("cause", "column"), [("death", 0), ("pcm", 1)])
def test_progression_with_death_competing_is_that_of_r(group: str, cause: str, column: int) -> None:
    rows = rows_of("data_mgus2") if group == "all" else rows_of("data_mgus2", sex=group)
    found = incidence_of(rows, "etime", "event", {"0": 0, "2": 1, "1": 2})
    check_against_r(found, column, rows_of("aj_mgus2", group=group, cause=cause))


@pytest.mark.parametrize("sex", ["F", "M"])
@pytest.mark.parametrize("cause", ["1", "2", "3"])
def test_three_causes_in_days_with_events_on_day_0_are_those_of_r(sex: str, cause: str) -> None:
    found = incidence_of(rows_of("data_flchain", sex=sex), "futime", "cause", {"0": 0, "1": 1, "2": 2, "3": 3})
    expected = [row for row in rows_of("aj_flchain", group=sex, cause=cause) if row["cif"] != "0"]
    assert len(expected) >= 5
    check_against_r(found, int(cause) - 1, expected)


def test_the_whole_curve_is_that_of_r() -> None:
    found = incidence_of(rows_of("data_mgus2"), "etime", "event", {"0": 0, "2": 1, "1": 2})
    events = [row for row in rows_of("aj_mgus2_full_curve") if row["n_pcm"] != "0" or row["n_death"] != "0"]
    assert found.days.tolist() == values_of(events, "time")
    assert found.at_risk.tolist() == values_of(events, "n_risk")
    assert_allclose(found.events.T, [values_of(events, "n_death"), values_of(events, "n_pcm")])
    assert_allclose(found.incidence.T, [values_of(events, "cif_death"), values_of(events, "cif_pcm")], rtol=1e-10)
    errors = [values_of(events, "se_death"), values_of(events, "se_pcm")]
    assert_allclose(np.sqrt(found.variance.T), errors, rtol=1e-9, atol=1e-14)


def test_the_published_summary_of_the_gammopathy_data_comes_out() -> None:
    """Progression in 1,384 people, death competing, at 12, 60, 120 and 240 months. R and a plain program agreed."""
    found = incidence_of(rows_of("data_mgus2"), "etime", "event", {"0": 0, "2": 1, "1": 2})
    risk = [0.009401259345, 0.034103712974, 0.063722168013, 0.099813715935]
    se = [0.002595155763, 0.004889257908, 0.006796848424, 0.009784846793]
    assert_allclose([point.risk for point in found.at([12, 60, 120, 240], 1)], risk, atol=6e-13)
    assert_allclose([standard_error(found, 1, month) for month in (12, 60, 120, 240)], se, atol=6e-13)
    assert_allclose(found.at([120], 0)[0].risk, 0.531817704080, atol=6e-13)


def test_day_0_and_three_endings_on_one_day_are_counted_as_r_does() -> None:
    found = incidence_of(rows_of("data_edge"), "time", "event", {"0": 0, "1": 1, "2": 2})
    expected = rows_of("edge_aj")
    for cause in (0, 1):
        column = str(cause + 1)
        rows = [
            {"time": r["time"], "n_risk": r["n_risk"], "cif": r["cif" + column], "se_ij": r["se" + column],
             "lower": r["lower" + column], "upper": r["upper" + column]}
            for r in expected
        ]  # fmt: skip
        check_against_r(found, cause, rows)
        other = rows_of("edge_cuminc", curve=f"1 {column}")  # another estimator's program, the same incidence
        points = found.at([int(row["time"]) for row in other], cause)
        assert_allclose([point.risk for point in points], values_of(other, "cif"), rtol=1e-10)
    free = [1 - sum(found.at([int(row["time"])], cause)[0].risk or 0 for cause in (0, 1)) for row in expected]
    assert_allclose(free, values_of(expected, "p_event_free"), rtol=1e-10)


@pytest.mark.parametrize(
    ("group", "cause", "risk", "se"),
    [
        ("0", 0, [0.117647058824, 0.176470588235, 0.176470588235], [0.0781424899006, 0.0924594409404, 0.0924594409404]),
        ("1", 0, [0.295138888889, 0.368185763889, 0.368185763889], [0.1107333319000, 0.1208514945937, 0.1208514945937]),
        ("0", 1, [0.294117647059, 0.588235294118, 0.705882352941], [0.1105101690150, 0.1193646249873, 0.1105101690150]),
        ("1", 1, [0.055555555556, 0.205707465278, 0.205707465278], [0.0539902953226, 0.1079470788240, 0.1079470788240]),
    ],
)
def test_35_transplants_two_of_them_ending_in_month_0_come_out(
    group: str, cause: int, risk: list[float], se: list[float]
) -> None:
    """Scrucca, Santucci & Aversa (2007), at 5, 20 and 60 months. Digits: R and a plain program agreed."""
    found = incidence_of(rows_of("data_transplants", dis=group), "ftime", "status", {"0": 0, "1": 1, "2": 2})
    assert_allclose([point.risk for point in found.at([5, 20, 60], cause)], risk, atol=6e-13)
    assert_allclose([standard_error(found, cause, month) for month in (5, 20, 60)], se, atol=6e-13)


def test_with_nothing_competing_risk_and_limits_are_those_of_kaplan_and_meier() -> None:
    counts = counts_of(joints_of(rows_of("data_flchain"), "futime", "death", {"0": 0, "1": 2}))
    net = kaplan_meier(counts.days, counts.revised, counts.left).curve()
    crude = aalen_johansen(counts.days, counts.revised[:, None], counts.left).curve(0)
    assert_allclose(crude.risk, net.risk, rtol=1e-12)
    assert_allclose(crude.lower, net.lower, rtol=1e-11)
    assert_allclose(crude.upper, net.upper, rtol=1e-11)


def test_a_reason_nobody_has_yet_gets_the_exact_bound_and_not_an_empty_interval() -> None:
    found = aalen_johansen(np.array([5, 9]), np.array([[3, 0], [0, 1]]), np.array([3, 97]))
    assert_allclose(found.at([6], 1)[0].upper, 1 - 0.025 ** (1 / 97), rtol=1e-12)
    assert found.at([6], 1)[0].note == EXACT_BOUND
    assert (found.at([9], 1)[0].lower or 0) > 0


def test_when_the_last_joint_ends_in_death_the_reasons_keep_their_limits() -> None:
    """Free of every cause is then 0, where the limits of 1 - Kaplan-Meier are undefined; those of a cause are not."""
    found = aalen_johansen(np.array([1, 2, 3]), np.array([[0, 1], [1, 1], [2, 0]]), np.array([1, 2, 2]))
    point = found.at([3], 1)[0]
    assert found.free[-1] == 0
    assert_allclose(point.risk, 0.4)
    assert_allclose(found.variance[-1, 1], 0.4 * 0.6 / 5)  # nobody is censored: binomial
    assert (point.lower or 1) < 0.4 < (point.upper or 0)


def test_where_every_joint_ends_by_one_cause_its_limits_are_undefined() -> None:
    found = aalen_johansen(np.array([1, 2, 3]), np.array([[1], [1], [5]]), np.array([1, 1, 5]))
    assert_allclose(found.at([3], 0)[0].risk, 1)
    assert (found.at([3], 0)[0].lower, found.at([3], 0)[0].upper) == (None, None)


def test_after_the_last_observation_there_is_no_incidence() -> None:
    found = aalen_johansen(np.array([400]), np.array([[1, 0]]), np.array([2]))
    assert found.at([days_in(2)], 0) == (RiskAt(730, 0, 1, None, None, None, NO_FOLLOW_UP),)


def test_those_who_enter_at_a_landmark_are_at_risk_from_the_next_day() -> None:
    """4 enter on day 10; of 4 on day 11 one dies, of 3 on day 12 one is revised: 3/4 × 1/3."""
    days, by_cause = np.array([10, 11, 12]), np.array([[0, 0], [1, 0], [0, 1]])
    found = aalen_johansen(days, by_cause, np.array([0, 1, 3]), np.array([4, 0, 0]))
    assert found.at_risk.tolist() == [4, 3]
    assert_allclose(found.incidence[-1], [0.25, 0.25])


def test_counts_by_cause_must_be_a_table_and_not_at_odds_with_the_endings() -> None:
    with pytest.raises(CountError, match="1 dimensions"):
        aalen_johansen(np.array([1]), np.array([1]), np.array([1]))
    with pytest.raises(CountError, match="day 1, 3 of 2"):
        aalen_johansen(np.array([1]), np.array([[1, 2]]), np.array([2]))
    with pytest.raises(CountError, match="1 of 2 values of the joints by cause are missing"):
        aalen_johansen(np.array([1]), np.ma.MaskedArray([[1, 2]], [[False, True]]), np.array([2]))
