"""Hazard ratios and tests: equal to R on open data and to lifelines on drawn joints; refused in one line."""

from pathlib import Path
from typing import Any

import numpy as np
import pandas
import pytest
from lifelines import CoxPHFitter

from regdash import grouping
from regdash.cohort import Cohort
from regdash.errors import FilterError, ModelError
from regdash.reports.desk import Desk
from regdash.reports.model import CompareReport, CompareRow
from regdash.reports.policy import Policy
from tests.cuts import Row, joint, random_joints
from tests.reports.cases import colon, gammopathy, remission
from tests.reports.desks import EVERYTHING, asked, desk_of, reference

CRUDE = ()
PRECISE = {"precision": 1e-12}
AGE_SEX = grouping.parse("age,sex")
Z = 1.959963984540054


def compare(desk: Desk, by: str, adjust: str = "", **more: Any) -> CompareReport:
    return desk.compare(more.pop("cohort", EVERYTHING), grouping.parse(by), grouping.parse(adjust), **more)


def statistic(report: CompareReport, test: str) -> tuple[float | None, int | None]:
    return next((row.statistic, row.df) for row in report.tests if row.test == test)


def ratio(report: CompareReport, group: str, start: float = 0.0, end: float | None = None) -> CompareRow:
    return next(r for r in report.rows if (r.group, r.from_years, r.to_years) == (group, start, end))


# ---- equal to R --------------------------------------------------------------------------------


def test_remission_has_the_ratio_that_r_prints(tmp_path: Path) -> None:
    """R 4.2.2, survival 3.5-3: coxph(Surv(time, status) ~ group, ties = "efron") and survdiff."""
    report = compare(desk_of(tmp_path, remission()), "bearing", reference="fixed")
    (row,) = report.rows
    assert (row.group, row.reference, row.from_years, row.to_years) == ("mobile", "fixed", 0.0, None)
    assert row.hazard_ratio == pytest.approx(np.exp(1.572125148829), rel=1e-10)
    assert row.lower == pytest.approx(np.exp(1.572125148829 - Z * 0.412396717709), rel=1e-10)
    assert row.upper == pytest.approx(np.exp(1.572125148829 + Z * 0.412396717709), rel=1e-10)
    logliks = -93.184269996848, -85.008424577372
    assert statistic(report, "likelihood ratio") == (pytest.approx(2 * (logliks[1] - logliks[0]), rel=1e-10), 1)
    assert statistic(report, "log-rank") == (pytest.approx(16.792941, rel=1e-7), 1)


def test_log_rank_tests_equal_r_unadjusted_and_stratified(tmp_path: Path) -> None:
    """R: survdiff(Surv(time, status) ~ rx, colon) and ~ rx + strata(node4)."""
    report = compare(desk_of(tmp_path, colon()), "fixation", "sex")
    for ours, theirs in (("log-rank", "colon rx"), ("log-rank, stratified", "colon rx strata(node4)")):
        row = next(row for row in reference("logrank") if row["test"] == theirs)
        assert statistic(report, ours) == (pytest.approx(float(row["chisq"]), rel=1e-10), int(row["df"]))


@pytest.mark.parametrize(("by", "theirs"), [("sex", "by sex"), ("asa", "by age group (<60;60-69;70-79;80+)")])
def test_grays_test_equals_r_with_death_competing(tmp_path: Path, by: str, theirs: str) -> None:
    """R: cmprsk::cuminc on mgus2, progression against death."""
    report = compare(desk_of(tmp_path, gammopathy()), by)
    row = next(row for row in reference("gray_tests") if (row["test"], row["cause"]) == (f"mgus2 {theirs}", "1"))
    assert statistic(report, "Gray") == (pytest.approx(float(row["stat"]), rel=1e-9), int(row["df"]))


# ---- equal to lifelines ------------------------------------------------------------------------


@pytest.fixture(scope="module")
def drawn() -> list[Row]:
    return random_joints(2500, seed=21)


@pytest.fixture(scope="module")
def drawn_desk(tmp_path_factory: pytest.TempPathFactory, drawn: list[Row]) -> Desk:
    return desk_of(tmp_path_factory.mktemp("store"), drawn)


def frame(rows: list[Row], *columns: str) -> pandas.DataFrame:
    """Rows without a missing value as lifelines wants them: indicators of levels, and days from 1 on."""
    table = pandas.DataFrame(
        {
            "day": [row["days"] + 1 for row in rows],  # it takes no event at 0; only the order of days matters
            "event": [int(row["ended"] == "revised") for row in rows],
            "class": [row["class"] for row in rows],
            "sex": [row["sex"] for row in rows],
            "asa": [row["asa"] for row in rows],
            "age": np.digitize([row["age"] for row in rows], [50, 60, 70, 80]).astype(str),
        }
    )[["day", "event", *columns]]
    recorded = table[~(table[list(columns)] == "not recorded").any(axis=1)]
    return pandas.get_dummies(recorded, columns=list(columns), drop_first=False, dtype=float)


def fitted(table: pandas.DataFrame, **more: Any) -> CoxPHFitter:
    return CoxPHFitter().fit(table, "day", "event", fit_options=PRECISE, **more)


def test_adjusted_ratios_limits_p_and_likelihood_ratio_equal_lifelines(drawn_desk: Desk, drawn: list[Row]) -> None:
    table = frame(drawn, "class", "sex", "age", "asa").drop(columns=["class_total", "sex_male", "age_2", "asa_II"])
    whole, without = fitted(table), fitted(table.drop(columns="class_partial"))
    report = compare(drawn_desk, "class", "age,sex,asa")
    row, theirs = ratio(report, "partial"), whole.summary.loc["class_partial"]
    assert report.modelled == len(table)
    assert row.hazard_ratio == pytest.approx(theirs["exp(coef)"], rel=1e-8)
    limits = theirs[["exp(coef) lower 95%", "exp(coef) upper 95%"]].tolist()
    assert [row.lower, row.upper] == pytest.approx(limits, rel=1e-8)
    assert row.p == pytest.approx(theirs["p"], rel=1e-6)
    expected = 2 * (whole.log_likelihood_ - without.log_likelihood_)
    assert statistic(report, "likelihood ratio") == (pytest.approx(expected, rel=1e-8), 1)


def test_ratios_by_window_equal_lifelines_on_follow_up_cut_into_intervals(drawn_desk: Desk, drawn: list[Row]) -> None:
    """Intervals (start, stop], cut after days 365 and 1826; the adjustment is the same in all, the group is not."""
    table = frame(drawn, "class", "sex").drop(columns=["class_total", "sex_male"])
    parts = []
    for number, (start, stop) in enumerate(((0, 366), (366, 1827), (1827, 10**6))):
        part = table[table["day"] > start].assign(start=start)
        part["event"] = part["event"] * (part["day"] <= stop)
        part["day"] = part["day"].clip(upper=stop)
        for window in range(3):
            part[f"partial_{window}"] = part["class_partial"] * (window == number)
        parts.append(part.drop(columns="class_partial"))
    whole = fitted(pandas.concat(parts), entry_col="start")
    report = compare(drawn_desk, "class", "sex", windows=(1, 5))
    for number, span in enumerate(((0.0, 1.0), (1.0, 5.0), (5.0, None))):
        row, theirs = ratio(report, "partial", *span), whole.summary.loc[f"partial_{number}"]
        assert row.hazard_ratio == pytest.approx(theirs["exp(coef)"], rel=1e-7)
        assert row.lower == pytest.approx(theirs["exp(coef) lower 95%"], rel=1e-7)


def test_a_penalised_ratio_is_finite_where_a_group_has_no_revision(tmp_path: Path) -> None:
    """
    One revision, in the new group of 2, the other 2 old: the score, with p = 2 r / (2 r + 2) the chance that it is of
    the new group, and half the slope of log(p (1 - p)), is (1 - p) + (1 - 2 p) / 2 = 0. So p = 3/4, and r = 3.
    """
    rows = [joint(days=10, ended="revised", reason="infection", bearing="mobile"), joint(days=99, bearing="mobile")]
    rows += [joint(days=99, bearing="fixed")] * 2
    desk = desk_of(tmp_path, rows)
    with pytest.raises(ModelError, match="None of the 2 joints of the reference"):
        compare(desk, "bearing", reference="fixed")
    report = compare(desk, "bearing", reference="fixed", penalised=True)
    assert report.rows[0].hazard_ratio == pytest.approx(3, rel=1e-9)
    assert statistic(report, "likelihood ratio") == (None, None)
    assert "Firth" in report.head.method


# ---- what is compared --------------------------------------------------------------------------


def test_the_largest_group_is_the_reference_unless_another_is_named(drawn_desk: Desk) -> None:
    usual, named = compare(drawn_desk, "class"), compare(drawn_desk, "class", reference="Partial")
    assert (usual.reference, named.reference) == ("total", "partial")
    assert ratio(named, "total").hazard_ratio == pytest.approx(1 / ratio(usual, "partial").hazard_ratio, rel=1e-9)


@pytest.mark.parametrize("name", ["60–69, female", "60-69, female", "60..69,female", "age=60..69 sex=female"])
def test_a_group_of_two_fields_may_be_named_by_its_label_or_its_words(drawn_desk: Desk, name: str) -> None:
    assert compare(drawn_desk, "age,sex", reference=name).reference == "60–69, female"


def test_an_unknown_reference_names_the_groups(drawn_desk: Desk) -> None:
    with pytest.raises(FilterError, match=r"There is no group partail to compare with\. Nearest: total, partial"):
        compare(drawn_desk, "class", reference="partail")


def test_what_is_not_recorded_is_left_out_of_the_model_and_counted(tmp_path: Path) -> None:
    """Of 60 joints 5 lack the sex, 4 the bearing and one of these both: 8 are left out."""
    rows = [joint(days=100 + n, ended="revised", bearing=("fixed", "mobile")[n % 2]) for n in range(10)]
    rows += [joint(bearing=("fixed", "mobile")[n % 2], sex=("female", "male")[n % 3 == 0]) for n in range(42)]
    rows += [joint(sex="not recorded")] * 4 + [joint(bearing="not recorded")] * 3
    rows += [joint(sex="not recorded", bearing="not recorded")]
    report = compare(desk_of(tmp_path, rows), "bearing", "sex")
    assert (report.head.joints, report.modelled) == (60, 52)
    assert [(left.field, left.joints) for left in report.left_out] == [("bearing", 4), ("sex", 5)]
    assert any("8 of 60 joints are left out" in caution for caution in report.head.cautions)
    assert {row.group for row in report.rows} | {report.reference} == {"fixed", "mobile"}


def test_a_field_that_makes_the_groups_or_has_one_value_is_not_adjusted_for(drawn_desk: Desk) -> None:
    report = compare(drawn_desk, "sex", "age,sex")
    assert [g.field.key for g in report.adjust] == ["age"]
    assert "Not adjusted for sex, which makes the groups." in report.head.cautions
    women = compare(drawn_desk, "class", "age,sex", cohort=asked(drawn_desk, "sex=female"))
    assert [g.field.key for g in women.adjust] == ["age"]
    assert "Not adjusted for sex, which is alike in all joints." in women.head.cautions
    assert "age (under 50, 50–59, 60–69, 70–79, 80 and over)." in women.model


def test_merging_the_windows_changes_no_ratio_for_all_of_follow_up(drawn_desk: Desk) -> None:
    whole, split = compare(drawn_desk, "class", "age,sex"), compare(drawn_desk, "class", "age,sex", windows=(1, 5))
    assert ratio(split, "partial") == ratio(whole, "partial")
    assert len(split.rows) == 4


def test_adjusting_takes_away_what_the_adjuster_alone_made(tmp_path: Path) -> None:
    """
    Men are revised at four times the rate of women, and three of four mobile bearings are theirs, one of four fixed
    ones: bearings look different, and are alike within each sex.
    """
    rows = []
    for sex, step in (("female", 40), ("male", 10)):
        for bearing, count in (
            ("fixed", 900 if sex == "female" else 300),
            ("mobile", 1200 - (900, 300)[sex == "male"]),
        ):
            rows += [
                joint(
                    sex=sex, bearing=bearing, days=100 + 7 * n % 900, ended="revised" if n % step == 0 else "in place"
                )
                for n in range(count)
            ]
    desk = desk_of(tmp_path, rows)
    crude, adjusted = compare(desk, "bearing"), compare(desk, "bearing", "sex")
    assert ratio(crude, "mobile").lower > 1.1
    assert ratio(adjusted, "mobile").hazard_ratio == pytest.approx(1, abs=0.1)


def test_a_ratio_that_changes_with_time_is_found_and_said(tmp_path: Path) -> None:
    """Mobile bearings are revised early and fixed ones late, as many of each: windows part what is one on average."""
    early = [joint(bearing="mobile", days=20 + 3 * n, ended="revised", reason="pain, unexplained") for n in range(60)]
    late = [joint(bearing="fixed", days=2000 + 3 * n, ended="revised", reason="pain, unexplained") for n in range(60)]
    rows = early + late + [joint(bearing=bearing, days=4000) for bearing in ("fixed", "mobile") for _ in range(300)]
    rows += [joint(bearing="fixed", days=30, ended="revised"), joint(bearing="mobile", days=2100, ended="revised")]
    report = compare(desk_of(tmp_path, rows), "bearing", reference="fixed", windows=(1,))
    assert ratio(report, "mobile", 0.0, 1.0).lower > 5
    assert ratio(report, "mobile", 1.0, None).upper < 0.2
    assert next(row.p for row in report.tests if row.test == "proportionality") < 1e-6
    assert any("The ratio changes with time" in caution for caution in report.head.cautions)


# ---- what is withheld and refused --------------------------------------------------------------


def test_a_small_group_is_withheld_and_says_why(tmp_path: Path) -> None:
    rows = [joint(days=100 + n, ended="revised", bearing=("fixed", "mobile")[n < 3]) for n in range(20)]
    rows += [joint(bearing="fixed", days=3000)] * 100 + [joint(bearing="mobile", days=3000)] * 36
    report = compare(desk_of(tmp_path, rows, Policy()), "bearing", windows=(1,))
    small = [row for row in report.rows if row.group == "mobile"]
    assert [(row.hazard_ratio, row.withheld) for row in small] == [
        (None, "fewer than 40 joints"),
        (None, "fewer than 40 joints"),
        (None, "fewer than 40 joints"),
    ]


def test_a_group_without_a_revision_has_no_ratio_and_the_others_have_theirs(tmp_path: Path) -> None:
    rows = [joint(days=100 + n, ended="revised", bearing=("fixed", "mobile")[n % 2]) for n in range(20)]
    rows += [joint(bearing=bearing, days=3000) for bearing in ("fixed", "mobile", "one-piece") for _ in range(50)]
    report = compare(desk_of(tmp_path, rows), "bearing", reference="fixed")
    assert ratio(report, "one-piece").withheld == "no revisions among its 50 joints"
    assert 0.4 < ratio(report, "mobile").hazard_ratio < 2.5


def test_a_window_in_which_the_reference_has_no_revision_is_withheld_alone(tmp_path: Path) -> None:
    rows = [joint(days=100 + n, ended="revised", bearing=("fixed", "mobile")[n % 2]) for n in range(20)]
    rows += [joint(days=800 + n, ended="revised", bearing="mobile") for n in range(10)]
    rows += [joint(days=2500 + n, ended="revised", bearing=("fixed", "mobile")[n % 2]) for n in range(20)]
    rows += [joint(bearing=bearing, days=3000) for bearing in ("fixed", "mobile") for _ in range(80)]
    report = compare(desk_of(tmp_path, rows), "bearing", reference="fixed", windows=(1, 5))
    assert ratio(report, "mobile", 1.0, 5.0).withheld == "no revisions in the reference (fixed)"
    alone = compare(desk_of(tmp_path / "early", [r for r in rows if r["days"] < 700 or r["days"] > 2400]), "bearing")
    assert alone.rows[0].hazard_ratio is not None
    assert ratio(report, "mobile", 0.0, 1.0).hazard_ratio is not None
    assert ratio(report, "mobile", 5.0, None).hazard_ratio is not None


@pytest.mark.parametrize(
    ("by", "adjust", "words", "said"),
    [
        ("", "", "", "A comparison needs groups"),
        ("joint", "", "", r"All joints that can be compared are of one group \(knee\)"),
        ("class", "constraint", "", "says nothing that .* does not say already"),
        ("surgeon", "", "hospital=H001..H009", "no value"),
        ("class", "", "implanted=1990", "No joint is left to compare"),
    ],
)
def test_what_cannot_be_compared_is_refused_in_one_line(
    drawn_desk: Desk, by: str, adjust: str, words: str, said: str
) -> None:
    with pytest.raises((FilterError, ModelError), match=said) as refusal:
        compare(drawn_desk, by, adjust, cohort=asked(drawn_desk, words) if words else Cohort())
    assert "\n" not in str(refusal.value)


def test_groups_without_a_revision_are_refused(tmp_path: Path) -> None:
    desk = desk_of(tmp_path, [joint(bearing="fixed")] * 3 + [joint(bearing="mobile")] * 2)
    with pytest.raises(ModelError, match=r"None of 5 joints is revised, so there is nothing to compare\."):
        compare(desk, "bearing")


def test_an_outcome_in_the_cohort_is_refused(drawn_desk: Desk) -> None:
    from regdash.cohort import parse

    with pytest.raises(FilterError, match="known only after implantation"):
        compare(drawn_desk, "class", cohort=parse("ended=revised", outcomes=True))


@pytest.mark.parametrize("windows", [(5, 1), (0, 1), (1, 1), (1, 500)])
def test_windows_follow_each_other(drawn_desk: Desk, windows: tuple[float, ...]) -> None:
    with pytest.raises(FilterError, match="do not follow each other"):
        compare(drawn_desk, "class", windows=windows)


def test_cautions_say_what_was_adjusted_for_and_how_many_ratios_there_are(drawn_desk: Desk) -> None:
    report = compare(drawn_desk, "asa", "age,sex", windows=(1, 5))
    cautions = " ".join(report.head.cautions)
    assert "Groups were not chosen by chance: they are adjusted for age and sex alone" in cautions
    assert f"{len(report.rows)} ratios are given: some may have a small p by chance alone." in cautions
    assert "nothing here is adjusted for that" in " ".join(compare(drawn_desk, "class").head.cautions)
