"""Differences, landmarks and standardised risks: equal to R, to lifelines, and worked out by hand."""

from math import log
from pathlib import Path

import numpy as np
import pytest
from lifelines import KaplanMeierFitter

from regdash import grouping
from regdash.errors import FilterError
from regdash.reports.desk import Desk
from regdash.reports.model import RiskReport, RiskRow
from regdash.reports.policy import Policy
from tests.cuts import Row, joint, random_joints
from tests.reports.cases import colon
from tests.reports.desks import EVERYTHING, asked, desk_of, reference, years_of

BY_CLASS = grouping.parse("class")
BY_BEARING = grouping.parse("bearing")
BY_SEX = grouping.parse("sex")
Z = 1.959963984540054


def row_of(report: RiskReport, group: str, years: float | None = None) -> RiskRow:
    return next(row for row in report.rows if row.group == group and years in (None, row.years))


# ---- differences -------------------------------------------------------------------------------


def test_differences_equal_r_on_the_colon_data(tmp_path: Path) -> None:
    """R: difference of 1 - surv of two arms, and the root of the added squares of their standard errors."""
    desk = desk_of(tmp_path, colon())
    arms = {"Obs": "cemented", "Lev": "cementless"}
    days = [730, 1826]
    years = [years_of(day) for day in days]
    report = desk.risk(EVERYTHING, grouping.parse("fixation"), years, difference=True, reference="hybrid")
    found = {(row.group, days[years.index(row.years)]): row for row in report.differences}
    for r in reference("benchmark_difference_colon"):
        row, difference, se = found[arms[r["group"]], int(r["time"])], float(r["diff"]), float(r["se"])
        assert row.reference == "hybrid"
        assert row.difference == pytest.approx(difference, abs=1e-12)
        assert (row.lower, row.upper) == tuple(map(pytest.approx, (difference - Z * se, difference + Z * se)))
    assert len(report.differences) == 4


def test_the_largest_group_is_what_differences_are_taken_from(drawn_desk: Desk) -> None:
    report = drawn_desk.risk(EVERYTHING, BY_CLASS, [5, 10], difference=True)
    assert [(row.group, row.reference, row.years) for row in report.differences] == [
        ("partial", "total", 5.0),
        ("partial", "total", 10.0),
    ]
    for row in report.differences:
        own, other = row_of(report, "partial", row.years), row_of(report, "total", row.years)
        assert row.difference == pytest.approx(own.estimate - other.estimate, abs=1e-15)


def test_a_difference_is_withheld_where_either_risk_is(tmp_path: Path) -> None:
    rows = [joint(bearing="fixed", days=5000)] * 90 + [joint(bearing="mobile", days=500)] * 60
    rows += [joint(bearing="mobile", days=5000)] * 30
    report = desk_of(tmp_path, rows, Policy()).risk(EVERYTHING, BY_BEARING, [1, 2], difference=True)
    first, second = report.differences
    assert (first.difference, first.withheld) == (0, None)
    assert (second.difference, second.withheld) == (None, "mobile: fewer than 40 joints at risk")


def test_a_group_without_a_revision_brings_its_exact_bound_into_the_limits(tmp_path: Path) -> None:
    """
    20 of 100 against none of 50: the plain half-width of the one, and of the other 1 - 0.025^(1/50) above 0 and
    nothing below, combined as squares (Zou & Donner 2008).
    """
    rows = [joint(bearing="fixed", days=9, ended="revised", reason="infection")] * 20
    rows += [joint(bearing="fixed", days=900)] * 80 + [joint(bearing="mobile", days=900)] * 50
    desk = desk_of(tmp_path, rows)
    (row,) = desk.risk(EVERYTHING, BY_BEARING, [1], difference=True, reference="mobile").differences
    half, bound = Z * (0.2 * 0.8 / 100) ** 0.5, 1 - 0.025 ** (1 / 50)
    assert row.difference == pytest.approx(0.2)
    assert (row.lower, row.upper) == tuple(map(pytest.approx, (0.2 - (half**2 + bound**2) ** 0.5, 0.2 + half)))


def test_one_group_alone_has_no_difference(drawn_desk: Desk) -> None:
    with pytest.raises(FilterError, match="A difference is between groups"):
        drawn_desk.risk(EVERYTHING, (), [5], difference=True)


# ---- landmarks ---------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def drawn() -> list[Row]:
    return random_joints(2500, seed=41)


@pytest.fixture(scope="module")
def drawn_desk(tmp_path_factory: pytest.TempPathFactory, drawn: list[Row]) -> Desk:
    return desk_of(tmp_path_factory.mktemp("store"), drawn)


@pytest.mark.parametrize("landmark", [1, 5])
def test_a_landmark_equals_lifelines_on_those_still_followed(drawn_desk: Desk, drawn: list[Row], landmark: int) -> None:
    report = drawn_desk.risk(EVERYTHING, BY_CLASS, [10, 12], given_unrevised=landmark)
    day = int(landmark * 365.25)
    for group in ("total", "partial"):
        rows = [row for row in drawn if row["class"] == group and row["days"] > day]
        ended = np.array([row["ended"] == "revised" for row in rows])
        fitter = KaplanMeierFitter().fit(np.array([row["days"] for row in rows]), ended)
        for years in (10.0, 12.0):
            ours = row_of(report, group, years)
            at = int(years * 365.25)
            assert ours.estimate == pytest.approx(1 - fitter.predict(at), abs=1e-12)
            limits = fitter.confidence_interval_.loc[:at].iloc[-1].tolist()
            assert [1 - ours.upper, 1 - ours.lower] == pytest.approx(limits, abs=1e-10)
            assert ours.at_risk == sum(row["days"] >= at for row in rows)


def test_a_landmark_conditions_net_risk_on_being_unrevised(drawn_desk: Desk) -> None:
    """(F(10) - F(2)) / (1 - F(2)), from the risks without a landmark."""
    whole = drawn_desk.risk(EVERYTHING, BY_CLASS, [2, 10])
    given = drawn_desk.risk(EVERYTHING, BY_CLASS, [10], given_unrevised=2)
    for group in ("total", "partial"):
        early, late = row_of(whole, group, 2.0).estimate, row_of(whole, group, 10.0).estimate
        assert row_of(given, group).estimate == pytest.approx((late - early) / (1 - early), abs=1e-12)


def test_a_landmark_is_named_counted_and_leaves_the_head_to_the_cohort(drawn_desk: Desk, drawn: list[Row]) -> None:
    report = drawn_desk.risk(EVERYTHING, (), [1, 5], given_unrevised=1)
    still = sum(row["days"] > 365 for row in drawn)
    assert report.head.measure == "net revision risk, given unrevised at 1 year"
    assert report.head.joints == 2500
    assert f"Risks are those of the {still:,} of 2,500 joints still followed" in " ".join(report.head.cautions)
    assert report.years == (5.0,)  # at the landmark itself nobody is at risk yet


def test_times_up_to_the_landmark_alone_are_refused(drawn_desk: Desk) -> None:
    with pytest.raises(FilterError, match=r"needs times after that, and 1, 3 is none\. Ask for later ones\."):
        drawn_desk.risk(EVERYTHING, (), [1, 3], given_unrevised=3)


# ---- standardisation ---------------------------------------------------------------------------


def two_sexes(fixed: tuple[int, int], mobile: tuple[int, int], sizes: dict[tuple[str, str], int]) -> list[Row]:
    """Joints by bearing and sex, some of each revised on day 9, the rest followed for years."""
    rows = []
    for bearing, revised in (("fixed", fixed), ("mobile", mobile)):
        for sex, count in zip(("female", "male"), revised):
            rows += [joint(bearing=bearing, sex=sex, days=9, ended="revised", reason="infection")] * count
            rows += [joint(bearing=bearing, sex=sex, days=4000)] * (sizes[bearing, sex] - count)
    return rows


SIZES = {("fixed", "female"): 300, ("fixed", "male"): 100, ("mobile", "female"): 100, ("mobile", "male"): 300}


def test_a_standardised_risk_by_hand(tmp_path: Path) -> None:
    """
    Women 2 % and men 10 % of either bearing, so that crude risks are 4 % and 8 %; half of all 800 joints are women's:
    both bearings have 6 %. Limits on log(-log) from the variances p (1 - p) / n, each with the square of a half.
    """
    desk = desk_of(tmp_path, two_sexes((6, 10), (2, 30), SIZES))
    crude = desk.risk(EVERYTHING, BY_BEARING, [5])
    assert [row.estimate for row in crude.rows] == pytest.approx([0.04, 0.08])
    report = desk.risk(EVERYTHING, BY_BEARING, [5], standardise=BY_SEX)
    assert [row.estimate for row in report.rows] == pytest.approx([0.06, 0.06])
    assert [(row.stratum, row.joints, row.share) for row in report.mix] == [("female", 400, 0.5), ("male", 400, 0.5)]
    se = (0.25 * 0.02 * 0.98 / 300 + 0.25 * 0.1 * 0.9 / 100) ** 0.5
    reach = np.exp(Z * se / (0.94 * -log(0.94)))
    row = row_of(report, "fixed")
    assert (row.lower, row.upper) == tuple(map(pytest.approx, (1 - 0.94 ** (1 / reach), 1 - 0.94**reach)))
    assert (row.at_risk, row.revisions) == (384, 16)
    assert report.head.measure == "standardised net revision risk"
    assert report.curves == ()


def test_the_same_mix_in_every_group_leaves_risks_as_they_are(tmp_path: Path) -> None:
    sizes = dict.fromkeys(SIZES, 150)
    desk = desk_of(tmp_path, two_sexes((6, 10), (9, 30), sizes))
    crude = desk.risk(EVERYTHING, BY_BEARING, [5]).rows
    standardised = desk.risk(EVERYTHING, BY_BEARING, [5], standardise=BY_SEX).rows
    assert [row.estimate for row in standardised] == pytest.approx([row.estimate for row in crude])


def test_a_standardised_difference_combines_the_limits_of_both_risks(tmp_path: Path) -> None:
    """Each side's distance from its own limit, as squares (Zou & Donner 2008)."""
    desk = desk_of(tmp_path, two_sexes((6, 10), (4, 60), SIZES))
    report = desk.risk(EVERYTHING, BY_BEARING, [5], standardise=BY_SEX, difference=True, reference="fixed")
    (row,) = report.differences
    own, other = row_of(report, "mobile"), row_of(report, "fixed")
    below = ((own.estimate - own.lower) ** 2 + (other.upper - other.estimate) ** 2) ** 0.5
    above = ((own.upper - own.estimate) ** 2 + (other.estimate - other.lower) ** 2) ** 0.5
    assert row.difference == pytest.approx(own.estimate - other.estimate)
    assert (row.lower, row.upper) == tuple(map(pytest.approx, (row.difference - below, row.difference + above)))
    assert "Zou & Donner" in report.head.method


def test_a_stratum_with_too_few_left_withholds_the_risk_and_is_named(tmp_path: Path) -> None:
    sizes = SIZES | {("mobile", "female"): 9}
    desk = desk_of(tmp_path, two_sexes((6, 10), (1, 30), sizes), Policy())
    report = desk.risk(EVERYTHING, BY_BEARING, [5], standardise=BY_SEX)
    assert row_of(report, "fixed").withheld is None
    assert row_of(report, "mobile").withheld == "stratum female has 8 at risk on this day, fewer than 10"
    assert report.head.settings["minimum_in_stratum"] == 10


def test_joints_without_the_field_are_left_out_and_counted_and_the_mix_is_stated(drawn_desk: Desk) -> None:
    report = drawn_desk.risk(EVERYTHING, BY_CLASS, [5], standardise=BY_SEX)
    (left,) = report.left_out
    assert left.field == "sex"
    assert sum(row.joints for row in report.mix) == 2500 - left.joints
    cautions = " ".join(report.head.cautions)
    assert f"with the mix of sex of all {2500 - left.joints:,} joints of this cohort" in cautions
    assert "they are adjusted for sex alone" in cautions


def test_a_field_that_makes_the_groups_is_not_standardised_for(drawn_desk: Desk) -> None:
    report = drawn_desk.risk(EVERYTHING, BY_SEX, [5], standardise=grouping.parse("class,sex"))
    assert [row.stratum for row in report.mix] == ["total", "partial"]
    with pytest.raises(FilterError, match="Groups are made by sex already"):
        drawn_desk.risk(EVERYTHING, BY_SEX, [5], standardise=BY_SEX)


def test_an_empty_cohort_is_answered_without_rows(drawn_desk: Desk) -> None:
    report = drawn_desk.risk(asked(drawn_desk, "implanted=1990"), BY_CLASS, [5], standardise=BY_SEX)
    assert (report.rows, report.mix, report.head.joints) == ((), (), 0)


def test_landmark_standardisation_and_difference_go_together(drawn_desk: Desk) -> None:
    """Given unrevised at 2 years, each stratum's risk is conditional, and the mix is that at implantation."""
    report = drawn_desk.risk(EVERYTHING, BY_CLASS, [8], standardise=BY_SEX, given_unrevised=2, difference=True)
    given = drawn_desk.risk(EVERYTHING, grouping.parse("class,sex"), [8], given_unrevised=2)
    for group in ("total", "partial"):
        parts = [row_of(given, f"{group}, {row.stratum}").estimate * row.share for row in report.mix]
        assert row_of(report, group).estimate == pytest.approx(sum(parts), abs=1e-12)
    assert len(report.differences) == 1
