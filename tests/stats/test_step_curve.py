"""Reading curves: joints at risk, whole curves, and limits on their scales."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from regdash.stats.kaplan_meier import kaplan_meier
from regdash.stats.limits import risk_limits
from regdash.stats.step_curve import RiskSet
from tests.stats.cases import counts_of, joints_of, rows_of

FLCHAIN = counts_of(joints_of(rows_of("data_flchain"), "futime", "death", {"0": 0, "1": 2}))


def test_joints_at_risk_on_any_day_are_those_whose_follow_up_reaches_it() -> None:
    last_days = [int(row["futime"]) for row in rows_of("data_flchain")]
    days = [0, 1, 364, 365, 366, 3652, 5000, max(last_days), max(last_days) + 1]
    found = RiskSet(FLCHAIN.days, FLCHAIN.at_risk)
    assert found.at(days).tolist() == [sum(last >= day for last in last_days) for day in days]
    assert found.last_day == max(last_days)


def test_a_curve_starts_on_day_0_steps_at_revisions_and_ends_with_follow_up() -> None:
    curve = kaplan_meier(np.array([2, 5, 9]), np.array([1, 0, 0]), np.array([1, 1, 8])).curve()
    assert curve.days.tolist() == [0, 2, 9]
    assert curve.risk.tolist() == [0, 0.1, 0.1]
    assert curve.at_risk.tolist() == [10, 10, 8]


def test_a_revision_on_day_0_lifts_the_start_of_the_curve() -> None:
    curve = kaplan_meier(np.array([0, 9]), np.array([1, 0]), np.array([1, 3])).curve()
    assert (curve.days.tolist(), curve.risk.tolist()) == ([0, 9], [0.25, 0.25])


def test_a_whole_curve_says_the_same_as_reading_it_day_by_day() -> None:
    net = kaplan_meier(FLCHAIN.days, FLCHAIN.revised, FLCHAIN.left)
    curve, points = net.curve(0.9, "log"), net.at(net.curve().days, 0.9, "log")
    for name in ("risk", "lower", "upper", "at_risk"):
        assert [getattr(point, name) for point in points] == getattr(curve, name).tolist()


def test_limits_between_steps_stay_where_they_were() -> None:
    early, late = kaplan_meier(np.array([5, 90]), np.array([2, 0]), np.array([2, 8])).at([5, 90])
    assert (early.risk, early.lower, early.upper) == (late.risk, late.lower, late.upper)
    assert (early.at_risk, late.at_risk) == (10, 8)


@pytest.mark.parametrize("scale", ["log-log", "log", "plain"])
def test_limits_hold_the_risk_between_them_and_stay_within_0_and_1(scale: str) -> None:
    risk = np.array([1e-9, 1e-4, 0.02, 0.5, 0.98, 1 - 1e-9])
    lower, upper = risk_limits(risk, np.sqrt(risk * (1 - risk) / 50), np.full(6, 50), 0.999, scale)  # type: ignore[arg-type]
    assert np.all((lower >= 0) & (lower <= risk) & (risk <= upper) & (upper <= 1))
    assert not lower.mask.any()


def test_under_the_mask_of_undefined_limits_stand_numbers_that_can_be_drawn() -> None:
    lower, upper = risk_limits(np.array([1.0, 0.0]), np.zeros(2), np.array([3, 0]))
    assert lower.mask.tolist() == upper.mask.tolist() == [True, True]
    assert np.isfinite([lower.data, upper.data]).all()


def test_an_unknown_scale_is_refused() -> None:
    with pytest.raises(ValueError, match="not logit"):
        risk_limits(np.array([0.1]), np.array([0.01]), np.array([5]), scale="logit")  # type: ignore[arg-type]


def test_a_risk_short_of_1_by_rounding_alone_has_no_limits() -> None:
    lower, _ = risk_limits(np.array([1 - 2e-16]), np.array([1e-9]), np.array([1]))
    assert lower.mask.tolist() == [True]


def test_wider_levels_give_wider_limits() -> None:
    net = kaplan_meier(np.array([5, 90]), np.array([2, 0]), np.array([2, 8]))
    (narrow,), (wide,) = net.at([5], 0.8), net.at([5], 0.99)
    assert wide.lower < narrow.lower < 0.2 < narrow.upper < wide.upper
    assert_allclose(narrow.risk, 0.2)
