"""Revision risk: equal to published tables and to other programs, withheld where too few are left."""

from pathlib import Path

import numpy as np
import pytest
from lifelines import KaplanMeierFitter

from regdash import cohort, grouping
from regdash.errors import FilterError
from regdash.reports.desk import Desk
from regdash.reports.model import RiskRow
from regdash.reports.policy import Policy
from tests.cuts import Row, joint, random_joints
from tests.reports.cases import remission
from tests.reports.desks import EVERYTHING, SHOW_ALL, asked, desk_of, reference, years_of

NO_GROUPS = ()


def gammopathy() -> list[Row]:
    """Monoclonal gammopathy, months in the place of days: progression stands for revision, death competes."""
    ended = {"0": "in place", "1": "revised", "2": "died"}
    return [
        joint(
            sex={"F": "female", "M": "male"}[row["sex"]],
            days=int(row["etime"]),
            ended=ended[row["event"]],
            reason="infection" if row["event"] == "1" else None,
        )
        for row in reference("data_mgus2")
    ]


def at(rows: tuple[RiskRow, ...], group: str) -> list[RiskRow]:
    return [row for row in rows if row.group == group]


def test_net_risk_equals_the_published_remission_table(tmp_path: Path) -> None:
    """Survival, its standard error's limits and numbers at risk as printed by R for the 6-MP arm (status A)."""
    printed = {
        6: (21, 0.857142857143, 0.619717955266, 0.951551747647),
        7: (17, 0.806722689076, 0.563146564622, 0.922809019203),
        10: (15, 0.752941176471, 0.503199510800, 0.889361835169),
        13: (12, 0.690196078431, 0.431610222486, 0.849065963349),
        16: (11, 0.627450980392, 0.367510855988, 0.804912189472),
        22: (7, 0.537815126050, 0.267778936767, 0.746790717635),
        23: (6, 0.448179271709, 0.188052005959, 0.680142628495),
    }
    desk = desk_of(tmp_path, remission())
    report = desk.risk(EVERYTHING, grouping.parse("bearing"), [years_of(day) for day in printed])
    for row, (at_risk, free, lower, upper) in zip(at(report.rows, "fixed"), printed.values(), strict=True):
        assert row.at_risk == at_risk
        assert row.estimate == pytest.approx(1 - free, abs=1e-11)
        assert (row.lower, row.upper) == pytest.approx((1 - upper, 1 - lower), abs=1e-11)


def test_a_risk_has_no_limits_where_every_joint_is_revised(tmp_path: Path) -> None:
    """The placebo arm of the same table ends at 0 on day 23, limits undefined; nobody is followed beyond."""
    desk = desk_of(tmp_path, remission())
    report = desk.risk(EVERYTHING, grouping.parse("bearing"), [years_of(22), years_of(23), years_of(24)])
    before, last, beyond = at(report.rows, "mobile")
    assert before.estimate == pytest.approx(1 - 0.047619047619, abs=1e-11)
    assert (last.estimate, last.lower, last.upper, last.withheld) == (1.0, None, None, None)
    assert (beyond.estimate, beyond.withheld) == (None, "not reached: the longest follow-up is 0.1 years")
    assert any("limits are not defined" in caution for caution in report.head.cautions)


def test_net_risk_by_sex_equals_r_on_monoclonal_gammopathy(tmp_path: Path) -> None:
    desk = desk_of(tmp_path, gammopathy())
    expected = reference("km_mgus2_pcm_deaths_censored")
    days = sorted({int(row["time"]) for row in expected})
    report = desk.risk(EVERYTHING, grouping.parse("sex"), [years_of(day) for day in days])
    found = {(row.group, day): row for group in ("female", "male") for row, day in zip(at(report.rows, group), days)}
    for row in expected:
        ours = found[{"F": "female", "M": "male"}[row["group"]], int(row["time"])]
        assert ours.at_risk == int(row["n_risk"])
        assert ours.estimate == pytest.approx(float(row["one_minus_km"]), abs=1e-12)
        assert (ours.lower, ours.upper) == pytest.approx((1 - float(row["upper"]), 1 - float(row["lower"])), abs=1e-11)


def test_cumulative_incidence_equals_r_on_monoclonal_gammopathy(tmp_path: Path) -> None:
    """The estimate and number at risk; R's limits are on another scale, ours are tested in tests/stats."""
    desk = desk_of(tmp_path, gammopathy())
    expected = [row for row in reference("aj_mgus2") if row["cause"] == "pcm" and row["group"] == "all"]
    days = [int(row["time"]) for row in expected]
    report = desk.risk(EVERYTHING, NO_GROUPS, [years_of(day) for day in days], view="patient")
    for ours, row in zip(report.rows, expected, strict=True):
        assert ours.at_risk == int(row["n_risk"])
        assert ours.estimate == pytest.approx(float(row["cif"]), abs=1e-12)


@pytest.fixture(scope="module")
def random_rows() -> list[Row]:
    return random_joints(1500, seed=11)


@pytest.fixture(scope="module")
def random_desk(tmp_path_factory: pytest.TempPathFactory, random_rows: list[Row]) -> Desk:
    return desk_of(tmp_path_factory.mktemp("store"), random_rows)


@pytest.mark.parametrize("years", [0.5, 1, 5, 10, 15])
def test_net_risk_equals_lifelines(random_desk: Desk, random_rows: list[Row], years: float) -> None:
    report = random_desk.risk(EVERYTHING, grouping.parse("class"), [years])
    for row in report.rows:
        rows = [joint_ for joint_ in random_rows if joint_["class"] == row.group]
        days = np.array([joint_["days"] for joint_ in rows])
        fitted = KaplanMeierFitter().fit(days, [joint_["ended"] == "revised" for joint_ in rows])
        day = int(years * 365.25)
        assert row.estimate == pytest.approx(1 - fitted.survival_function_at_times(day).iloc[0], abs=1e-10)
        assert row.at_risk == int((days >= day).sum())
        limits = fitted.confidence_interval_[fitted.confidence_interval_.index <= day].iloc[-1]
        assert (row.lower, row.upper) == pytest.approx((1 - limits.iloc[1], 1 - limits.iloc[0]), abs=1e-10)


def test_risks_of_reasons_add_up_to_the_risk_of_any_revision(random_desk: Desk) -> None:
    whole = random_desk.risk(EVERYTHING, NO_GROUPS, [10], view="patient").rows[0].estimate
    groups = random_desk.reasons(EVERYTHING).rows
    each = [random_desk.risk(EVERYTHING, NO_GROUPS, [10], reason=row.reason).rows[0].estimate for row in groups]
    assert sum(each) == pytest.approx(whole, abs=1e-12)


def test_one_reason_is_always_seen_with_everything_else_competing(random_desk: Desk) -> None:
    report = random_desk.risk(EVERYTHING, reason="progression-of-disease", view="implant")
    assert report.head.view == "patient"
    assert report.head.endpoint == "revision for progression of disease"
    assert "Aalen–Johansen" in report.head.method


def test_a_reason_may_be_named_in_detail_and_its_group_holds_it(random_desk: Desk, random_rows: list[Row]) -> None:
    detail = random_desk.risk(EVERYTHING, NO_GROUPS, [20], reason="loosening-tibial").rows[0]
    group = random_desk.risk(EVERYTHING, NO_GROUPS, [20], reason="loosening").rows[0]
    early = [row for row in random_rows if row["days"] <= 7305 and row["ended"] == "revised"]
    assert detail.revisions == sum(row["reason"] == "loosening, tibial" for row in early)
    assert group.revisions == sum(str(row["reason"]).startswith("loosening") for row in early)


# ---- what is withheld --------------------------------------------------------------------------


def test_an_estimate_is_withheld_below_forty_at_risk(tmp_path: Path) -> None:
    """Forty joints reach year 1 and thirty-nine year 2; counts stay, the estimate goes."""
    rows = [joint(days=900) for _ in range(39)] + [joint(days=400, ended="revised", reason="pain, unexplained")]
    report = desk_of(tmp_path, rows, Policy()).risk(EVERYTHING, NO_GROUPS, [1, 2, 3])
    first, second, third = report.rows
    assert (first.at_risk, first.estimate, first.withheld) == (40, 0.0, None)
    assert (second.at_risk, second.revisions, second.estimate) == (39, 1, None)
    assert second.withheld == "fewer than 40 joints at risk"
    assert third.withheld == "not reached: the longest follow-up is 2.5 years"
    assert report.head.settings["minimum_at_risk"] == 40


def test_a_curve_ends_on_the_last_day_with_enough_at_risk(tmp_path: Path) -> None:
    rows = [joint(days=100 + n, ended="revised", reason="infection") for n in range(50)]
    (curve,) = desk_of(tmp_path, rows, Policy()).risk(EVERYTHING).curves
    assert curve.last_day == 110  # the day of the eleventh revision: 40 were at risk just before it
    assert curve.days.tolist() == [0, *range(100, 111)]
    assert curve.estimate[0] == 0
    assert curve.estimate[-1] == pytest.approx(11 / 50)
    assert np.all(np.diff(curve.estimate) > 0)
    assert np.all((curve.lower <= curve.estimate) & (curve.estimate <= curve.upper))
    assert curve.at_risk == ((0.0, 50),)


def test_a_group_too_small_to_be_drawn_has_an_empty_curve(tmp_path: Path) -> None:
    (curve,) = desk_of(tmp_path, [joint()], Policy()).risk(EVERYTHING).curves
    assert len(curve.days) == 0
    assert curve.last_day == 0


def test_no_revision_yet_has_an_exact_upper_bound_and_says_so(tmp_path: Path) -> None:
    """1 - 0.025 ^ (1 / 60): the chance bound for no event among 60 (Clopper & Pearson 1934)."""
    report = desk_of(tmp_path, [joint(days=800)] * 60, Policy()).risk(EVERYTHING, NO_GROUPS, [1])
    assert report.rows[0].upper == pytest.approx(1 - 0.025 ** (1 / 60), abs=1e-12)
    assert any("one-sided exact bound" in caution for caution in report.head.cautions)


# ---- what the head says ------------------------------------------------------------------------


def test_the_head_counts_joints_patients_revisions_and_follow_up(tmp_path: Path) -> None:
    rows = [
        joint(patient=0, days=100, ended="revised", reason="infection"),
        joint(patient=0, side="right", days=300),
        joint(patient=1, days=700, ended="died"),
        joint(patient=2, class_="partial", days=900, ended="lost"),
    ]
    desk = desk_of(tmp_path, rows, held=[(0, "side-missing"), (3, "side-missing"), (None, "no-patient")])
    head = desk.risk(EVERYTHING).head
    assert (head.joints, head.patients, head.revisions, head.held_revisions) == (4, 3, 1, 3)
    assert head.median_follow_up == pytest.approx(500 / 365.25)
    total = desk.risk(asked(desk, "class=total")).head
    assert (total.joints, total.patients, total.revisions, total.held_revisions) == (3, 2, 1, 1)
    assert total.median_follow_up == pytest.approx(300 / 365.25)
    assert any(caution.startswith("1 revision of these joints is held back") for caution in total.cautions)


def test_patients_are_counted_as_a_set_would(random_desk: Desk, random_rows: list[Row]) -> None:
    head = random_desk.risk(asked(random_desk, "sex=female age=60..")).head
    kept = {row["patient"] for row in random_rows if row["sex"] == "female" and row["age"] >= 60}
    assert head.patients == len(kept)


def test_median_follow_up_equals_numpy(random_desk: Desk, random_rows: list[Row]) -> None:
    head = random_desk.risk(EVERYTHING).head
    assert head.median_follow_up == pytest.approx(np.median([row["days"] for row in random_rows]) / 365.25, abs=1e-12)


def test_the_caution_on_groups_is_there_only_where_there_are_groups(random_desk: Desk) -> None:
    alone = random_desk.risk(EVERYTHING).head.cautions
    grouped = random_desk.risk(EVERYTHING, grouping.parse("class")).head.cautions
    assert not any("not chosen by chance" in caution for caution in alone)
    assert "not chosen by chance" in grouped[0]


def test_an_empty_cohort_answers_with_a_sentence_and_no_rows(random_desk: Desk) -> None:
    report = random_desk.risk(asked(random_desk, "age=200.."), grouping.parse("class"))
    assert (report.rows, report.curves, report.groups) == ((), (), ())
    assert (report.head.joints, report.head.patients, report.head.median_follow_up) == (0, 0, None)
    assert report.head.cautions[0] == "No joint of this data cut is in the cohort."


# ---- what is refused ---------------------------------------------------------------------------


@pytest.mark.parametrize("ask", ["risk", "reasons", "rates", "describe", "implants"])
def test_a_cohort_chosen_by_outcome_is_refused(random_desk: Desk, ask: str) -> None:
    chosen = cohort.parse("ended=revised", outcomes=True)
    with pytest.raises(FilterError, match="ended is known only after implantation"):
        getattr(random_desk, ask)(chosen)


@pytest.mark.parametrize(
    ("asked_for", "told"),
    [
        ({"view": "surgeon"}, "There is no view surgeon"),
        ({"reason": "lossening"}, "There is no reason lossening. Nearest: loosening"),
        ({"years": []}, "A risk needs at least one time in years"),
        ({"years": [-1]}, "-1 is not a time in years"),
        ({"years": [float("nan")]}, "nan is not a time in years"),
        ({"years": [1e9]}, "is not a time in years"),
    ],
)
def test_what_cannot_be_answered_is_refused_in_one_sentence(
    random_desk: Desk, asked_for: dict[str, object], told: str
) -> None:
    with pytest.raises(FilterError) as caught:
        random_desk.risk(EVERYTHING, **asked_for)
    assert told in str(caught.value)


def test_times_come_in_order_and_once(random_desk: Desk) -> None:
    assert random_desk.risk(EVERYTHING, NO_GROUPS, [10, 1, 10]).years == (1.0, 10.0)


def test_nothing_is_withheld_where_one_at_risk_is_enough(random_desk: Desk) -> None:
    assert random_desk.policy == SHOW_ALL
    assert all(row.withheld is None for row in random_desk.risk(EVERYTHING).rows)
