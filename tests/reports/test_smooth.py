"""The hazard along a field of numbers: equal to R on open data, to lifelines on drawn joints; refused in one line."""

from pathlib import Path
from typing import Any

import numpy as np
import pandas
import pytest
from lifelines import CoxPHFitter

from regdash import grouping
from regdash.errors import FilterError, ModelError
from regdash.reports.desk import Desk
from regdash.reports.policy import Policy
from regdash.reports.smooth_model import SmoothReport, SmoothRow
from tests.cuts import Row, joint, random_joints
from tests.reports.cases import gammopathy
from tests.reports.desks import EVERYTHING, asked, desk_of, reference

AT = (52, 55, 60, 65, 70, 72, 75, 80, 85, 88)
Z = 1.959963984540054


def smooth(desk: Desk, over: str, adjust: str = "", **more: Any) -> SmoothReport:
    return desk.smooth(more.pop("cohort", EVERYTHING), over, grouping.parse(adjust), **more)


def at(report: SmoothReport, value: float) -> SmoothRow:
    return next(row for row in report.rows if row.value == value)


def found_by(report: SmoothReport, test: str) -> Any:
    return next(row for row in report.tests if row.test == test)


# ---- equal to R --------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def gammopathies(tmp_path_factory: pytest.TempPathFactory) -> Desk:
    """Monoclonal gammopathy: age stands for the surgeon's volume too, and 37 surgeons by it."""
    rows = [row | {"surgeon_volume": row["age"], "surgeon_id": f"S{row['age'] % 37:04d}"} for row in gammopathy()]
    return desk_of(tmp_path_factory.mktemp("store"), rows)


@pytest.mark.parametrize(
    ("model", "over", "more"),
    [
        ("age 4", "age", {"knots": 4, "reference": 70}),
        ("age 3", "age", {"knots": 3, "reference": 60}),
        ("age 5", "age", {"knots": 5}),
        ("log age 4", "volume", {"reference": 70, "robust": "none"}),
        ("log age 4 cluster", "volume", {"reference": 70}),
    ],
)
def test_curve_limits_and_tests_equal_r(gammopathies: Desk, model: str, over: str, more: dict[str, Any]) -> None:
    """
    R 4.2.2, survival 3.5-3: k = quantile(age, percentiles of the knots), f the identity or log1p,
    coxph(Surv(etime, event == 1) ~ ns(f(age), knots = f(k)[inner], Boundary.knots = f(k)[outer]) + sex, mgus2),
    with cluster = age %% 37 in the last (tests/reference/README.md).
    """
    report = smooth(gammopathies, over, "sex", at=AT, **more)
    r = next(row for row in reference("spline_tests_mgus2") if row["model"] == model)
    assert report.knots == tuple(map(float, r["knots"].split()))
    rows = [row for row in reference("spline_mgus2") if row["model"] == model]
    assert [float(row["value"]) for row in rows] == list(AT)
    for theirs in rows:
        row, log_ratio, se = at(report, float(theirs["value"])), float(theirs["log_ratio"]), float(theirs["se"])
        assert row.hazard_ratio == pytest.approx(np.exp(log_ratio), rel=1e-8)
        assert row.lower == pytest.approx(np.exp(log_ratio - Z * se), rel=1e-8)
        assert row.upper == pytest.approx(np.exp(log_ratio + Z * se), rel=1e-8)
    how = "wald_" if model.endswith("cluster") else ""
    any_of_it, bends = found_by(report, "association"), found_by(report, "non-linearity")
    coefficients = len(report.knots) - 1
    assert (any_of_it.statistic, any_of_it.df) == (pytest.approx(float(r[f"{how}association"]), rel=1e-7), coefficients)
    assert (bends.statistic, bends.df) == (pytest.approx(float(r[f"{how}bending"]), rel=1e-7), coefficients - 1)
    assert found_by(report, "proportionality").statistic == pytest.approx(float(r["zph"]), rel=1e-7)


def test_the_curve_of_the_chart_goes_through_the_rows_of_the_table(gammopathies: Desk) -> None:
    report = smooth(gammopathies, "age", "sex")
    curve = report.curve
    assert (curve.values[0], curve.values[-1]) == (report.low, report.high) == (48, 88)  # quantile(age, c(.05, .95))
    assert curve.values.tolist() == list(range(48, 89))
    for row in report.rows:
        if row.value is not None:
            place = curve.values.tolist().index(row.value)
            figures = (curve.ratio[place], curve.lower[place], curve.upper[place])
            assert figures == pytest.approx((row.hazard_ratio, row.lower, row.upper), rel=1e-12)
    ours = at(report, report.reference)
    assert (ours.hazard_ratio, ours.lower, ours.upper) == (1.0, 1.0, 1.0)


# ---- equal to lifelines ------------------------------------------------------------------------


@pytest.fixture(scope="module")
def drawn() -> list[Row]:
    """Joints whose index and surgeon's volume are drawn too, some of them not recorded."""
    random = np.random.default_rng(8)
    rows = random_joints(1500, seed=4)
    for row in rows:
        row["bmi"] = None if random.random() < 0.1 else round(float(random.normal(29, 4)), 1)
        row["surgeon_volume"] = None if random.random() < 0.2 else int(random.gamma(1.2, 15))
    return rows


@pytest.fixture(scope="module")
def desk(tmp_path_factory: pytest.TempPathFactory, drawn: list[Row]) -> Desk:
    return desk_of(tmp_path_factory.mktemp("store"), drawn)


def test_a_field_with_decimals_is_taken_by_them_and_incomplete_joints_are_left_out(
    desk: Desk, drawn: list[Row]
) -> None:
    """lifelines 0.30, CoxPHFitter on a truncated power basis written out here: the same curve by another basis."""
    complete = [row for row in drawn if row["bmi"] is not None and row["sex"] != "not recorded"]
    index = np.array([row["bmi"] for row in complete])
    k = np.quantile(index, (0.1, 0.5, 0.9))

    def bend(x: Any) -> Any:
        cubes = [np.maximum(np.asarray(x, dtype=float) - knot, 0) ** 3 for knot in k]
        return cubes[0] - cubes[1] * (k[2] - k[0]) / (k[2] - k[1]) + cubes[2] * (k[1] - k[0]) / (k[2] - k[1])

    table = pandas.DataFrame(
        {
            "day": [row["days"] + 1 for row in complete],
            "event": [int(row["ended"] == "revised") for row in complete],
            "line": index - 29,
            "bend": bend(index) / 100,
            "male": [float(row["sex"] == "male") for row in complete],
        }
    )
    fit = CoxPHFitter().fit(table, "day", "event", fit_options={"precision": 1e-12})
    report = smooth(desk, "bmi", "sex", knots=3, reference=29.0, at=(24.5, 33.3))
    assert report.knots == pytest.approx(tuple(k), rel=1e-12)
    assert report.modelled == len(complete) < report.head.joints  # type: ignore[operator]
    lacking = {left.field: left.joints for left in report.left_out}
    assert lacking == {
        "bmi": sum(row["bmi"] is None for row in drawn),
        "sex": sum(row["sex"] == "not recorded" for row in drawn),
    }
    for value in (24.5, 33.3):
        away = np.array([value - 29, (bend(value) - bend(29.0)) / 100, 0.0])
        log_ratio, se = away @ fit.params_.to_numpy(), np.sqrt(away @ fit.variance_matrix_.to_numpy() @ away)
        expected = np.exp([log_ratio, log_ratio - Z * se, log_ratio + Z * se])
        row = at(report, value)
        assert (row.hazard_ratio, row.lower, row.upper) == pytest.approx(tuple(expected), rel=1e-6)


def test_rows_count_every_joint_of_the_model_once(desk: Desk, drawn: list[Row]) -> None:
    report = smooth(desk, "volume", "age", robust="none")
    volumes = np.array([-1 if row["surgeon_volume"] is None else row["surgeon_volume"] for row in drawn])
    known = volumes[volumes >= 0]
    assert report.modelled == len(known) == sum(row.joints or 0 for row in report.rows)
    assert sum(row.revisions or 0 for row in report.rows) == sum(
        row["ended"] == "revised" for row in drawn if row["surgeon_volume"] is not None
    )
    for row in report.rows:
        first, last = -np.inf if row.from_value is None else row.from_value, row.to_value
        inside = (known >= first) & (known <= (np.inf if last is None else last))
        assert row.joints == int(inside.sum())
    assert report.reference == np.floor(np.median(known))
    assert (report.low, report.high) == (np.ceil(np.quantile(known, 0.05)), np.floor(np.quantile(known, 0.95)))


def test_what_lies_beyond_the_ends_has_joints_and_no_ratio_and_says_why(desk: Desk) -> None:
    report = smooth(desk, "volume", "age", at=(10, 150))
    beyond = [row for row in report.rows if row.withheld]
    assert [row.value for row in beyond] == [None, 150]
    straight = "the curve would be straight by assumption alone"
    assert beyond[0].withheld == f"under {report.low:g}, the 5th percentile, {straight}"
    assert beyond[1].withheld == f"over {report.high:g}, the 95th percentile, {straight}"
    assert all(row.hazard_ratio is row.lower is row.upper is None for row in beyond)
    assert any(f"Shown from {report.low:g} to {report.high:g}" in caution for caution in report.head.cautions)


# ---- what is said ------------------------------------------------------------------------------


def test_volume_has_limits_by_surgeon_and_says_what_it_leaves_out_and_mixes(desk: Desk) -> None:
    report = smooth(desk, "volume", "age,volume,sex")
    assert report.robust == "surgeon"
    assert "by the scatter of" in report.model
    said = " ".join(report.head.cautions)
    assert "Not adjusted for volume, which makes the curve." in said
    assert "first 365 days on the register have no volume" in said
    assert "primaries of the joint's own class, and these joints are of several" in said
    one = smooth(desk, "volume", cohort=asked(desk, "class=total"), robust="none")
    said = " ".join(one.head.cautions)
    assert "are of several" not in said
    assert "too narrow for volume" in said
    assert smooth(desk, "age").robust is None


def test_knots_are_three_where_two_of_four_would_fall_together(tmp_path: Path) -> None:
    """Volumes whose 65th and 95th percentile are one, so that 4 knots cannot stand; the 10th, 50th and 90th differ."""
    volumes = [2] * 5 + [5] * 27 + [9] * 28 + [20] * 40
    rows = [
        joint(
            surgeon_volume=v, surgeon_id=f"S{n:04d}", days=500 + 37 * n % 101, ended="revised" if n % 3 else "in place"
        )
        for n, v in enumerate(volumes)
    ]
    own = desk_of(tmp_path, rows)
    report = smooth(own, "volume", robust="none")
    assert (report.knots, report.knot_percentiles) == ((5.0, 9.0, 20.0), (0.1, 0.5, 0.9))
    with pytest.raises(ModelError, match="Too many of these joints have one volume for a curve with 4 knots"):
        smooth(own, "volume", knots=4)


def test_a_curve_on_few_revisions_is_withheld_with_the_reason(desk: Desk) -> None:
    strict = Policy(minimum_at_risk=40, minimum_events=500)
    report = Desk(desk._store, policy=strict).smooth(EVERYTHING, "age", ())
    assert {row.withheld for row in report.rows} == {"fewer than 1500 revisions, 500 for each of 3 coefficients"}
    assert not len(report.curve.values)
    assert all(row.p is None and row.withheld for row in report.tests)


def test_nothing_is_told_by_the_scatter_of_few_hospitals(desk: Desk) -> None:
    """Fewer than 30 give limits too narrow (Cameron & Miller 2015, J Hum Resour 50:317-372)."""
    report = smooth(desk, "age", robust="hospital")
    assert 1 < (report.clusters or 0) < 30
    assert {row.withheld for row in report.rows} == {"fewer than 30 hospitals, by whose scatter limits are made"}
    assert not len(report.curve.values)
    assert all(row.p is None and row.withheld for row in report.tests)


def test_small_counts_are_withheld_with_another_beside_them(desk: Desk) -> None:
    report = Desk(desk._store, policy=Policy(withhold_counts_under=12)).smooth(EVERYTHING, "age", ())
    whole = smooth(desk, "age")
    hidden = [one for one, other in zip(whole.rows, report.rows, strict=True) if other.revisions is None]
    small = [row for row in whole.rows if 0 < (row.revisions or 0) < 12]
    assert small
    assert set(small) <= set(hidden)
    assert len(hidden) >= 2
    assert sum(row.revisions or 0 for row in hidden) >= 12
    assert all("withheld" in (row.withheld or "") for row in report.rows if row.joints is None)


@pytest.mark.parametrize(
    ("over", "more", "says"),
    [
        ("sex", {}, "sex is no number, along which a curve could run. It may be: volume, age, bmi."),
        ("vloume", {}, "There is no field vloume, along which a curve could run. Nearest: volume."),
        ("age", {"reference": 12.0}, "The reference 12 lies outside"),
        ("age", {"reference": 70.5}, "70.5 is no age: it is whole"),
        ("bmi", {"at": (29.55,)}, "29.55 is no bmi: it is with one decimal at most"),
        ("age", {"at": (float("nan"),)}, "nan is no age"),
        ("age", {"knots": 7}, "A curve has 3 to 5 knots, not 7."),
        ("age", {"robust": "clinic"}, "Limits are not made robust by clinic"),
        ("age", {"adjust": "hospital", "robust": "hospital"}, "Ratios are adjusted for hospital"),
    ],
)
def test_what_cannot_be_asked_is_refused_in_one_line(desk: Desk, over: str, more: dict[str, Any], says: str) -> None:
    with pytest.raises(FilterError) as refusal:
        smooth(desk, over, **more)
    assert says in str(refusal.value)
    assert "\n" not in str(refusal.value)


def test_joints_of_several_kinds_and_none_revised_are_refused(tmp_path: Path, desk: Desk) -> None:
    rows = [joint(age=50 + n) for n in range(40)]
    with pytest.raises(ModelError, match="None of 40 joints is revised, so there is no curve"):
        smooth(desk_of(tmp_path, rows), "age")
    with pytest.raises(ModelError, match="No joint is left to model: 40 have no bmi"):
        smooth(desk_of(tmp_path / "other", [row | {"bmi": None} for row in rows]), "bmi")


def test_a_curve_without_end_is_refused_with_what_can_be_done(tmp_path: Path) -> None:
    # The older, the sooner, without exception: no highest likelihood (Heinze & Schemper, Biometrics 2001;57:114-119).
    rows = [joint(age=50 + n, days=4000 - 30 * n, ended="revised", reason="infection") for n in range(40)]
    with pytest.raises(ModelError, match=r"There is no curve: the ratio to the reference has no end.*fewer knots"):
        smooth(desk_of(tmp_path, rows), "age")
