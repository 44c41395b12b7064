"""compare, gap and what risk gives beside itself, at the command line."""

import csv
import io
import math
from pathlib import Path

import pandas
import pytest
from lifelines import CoxPHFitter

from tests.cli.asking import one_line, regdash
from tests.cuts import make_cut
from tests.reports.cases import colon
from tests.reports.desks import reference


def test_a_hazard_ratio_in_json_is_that_of_lifelines_on_the_colon_data(tmp_path: Path) -> None:
    """lifelines 0.30, CoxPHFitter (Efron) on survival::colon: two arms against the third, nodes held alike."""
    rows = colon()
    table = pandas.DataFrame(
        {
            "day": [row["days"] for row in rows],
            "event": [int(row["ended"] == "revised") for row in rows],
            "cementless": [int(row["fixation"] == "cementless") for row in rows],
            "hybrid": [int(row["fixation"] == "hybrid") for row in rows],
            "nodes": [int(row["sex"] == "male") for row in rows],
        }
    )
    fitted = CoxPHFitter().fit(table, "day", "event", fit_options={"precision": 1e-12}).summary
    words = ("compare", "--by", "fixation", "--adjust", "sex", "--reference", "cemented", "--json")
    found = {row["group"]: row for row in regdash(*words, store=make_cut(tmp_path, rows)).json["rows"]}
    assert set(found) == {"cementless", "hybrid"}
    for group, row in found.items():
        assert (row["reference"], row["from_years"], row["to_years"]) == ("cemented", 0, None)
        assert math.isclose(row["hazard_ratio"], fitted.loc[group, "exp(coef)"], rel_tol=1e-8)
        assert math.isclose(row["upper"], fitted.loc[group, "exp(coef) upper 95%"], rel_tol=1e-8)


def test_tests_in_json_are_those_of_r_on_the_colon_data(tmp_path: Path) -> None:
    """R: survdiff(Surv(time, status) ~ rx + strata(node4), colon)."""
    answer = regdash("compare", "--by", "fixation", "--adjust", "sex", "--json", store=make_cut(tmp_path, colon())).json
    found = {row["test"]: row for row in answer["tests"]}
    r = next(row for row in reference("logrank") if row["test"] == "colon rx strata(node4)")
    assert list(found["log-rank, stratified"]) == ["test", "asks", "statistic", "df", "p"]
    assert math.isclose(found["log-rank, stratified"]["statistic"], float(r["chisq"]), rel_tol=1e-10)
    assert math.isclose(found["log-rank, stratified"]["p"], float(r["p"]), rel_tol=1e-9)
    assert answer["model"].startswith("Cox's model of the hazard of revision in 929 joints, 452 of them revised")


def test_json_tells_the_reference_the_adjustment_and_who_is_left_out(store):
    words = ("compare", "--by", "class", "--adjust", "age:20,sex,asa", "--windows", "1,5", "--reference", "partial")
    answer = regdash(*words, "--json", store=store).json
    assert (answer["reference"], answer["adjust"], answer["windows"]) == ("partial", "age:20,sex,asa", [1, 5])
    assert {left["field"] for left in answer["left_out"]} == {"sex", "asa"}
    assert answer["modelled_joints"] < answer["joints"]
    assert [(row["from_years"], row["to_years"]) for row in answer["rows"]] == [(0, None), (0, 1), (1, 5), (5, None)]


def test_the_parts_of_a_gap_in_csv_add_up_to_its_last_row(store):
    *parts, whole = regdash("gap", "--by", "class", "--years", "10", "--csv", store=store).csv
    assert whole["reason"] == "all reasons"
    for field in ("group_a", "group_b", "difference", "share"):
        assert math.isclose(sum(float(row[field]) for row in parts), float(whole[field]), abs_tol=1e-12)


def test_robust_limits_are_said_in_every_form(store):
    words = ("compare", "--by", "class", "--adjust", "sex", "--robust", "patient")
    answer, usual = regdash(*words, "--json", store=store).json, regdash(*words[:-2], "--json", store=store).json
    assert (answer["robust"], "robust" in usual) == ("patient", False)
    assert 0 < answer["clusters"] < answer["modelled_joints"]
    tests = {row["test"]: row for row in answer["tests"]}
    assert tests["likelihood ratio"]["withheld"].startswith("not made where limits are robust")
    assert tests["Wald"]["statistic"] > 0
    (row,) = list(csv.DictReader(io.StringIO(regdash(*words, "--csv", store=store).stdout)))
    assert (row["robust"], int(row["clusters"])) == ("patient", answer["clusters"])
    assert float(row["hazard_ratio"]) == answer["rows"][0]["hazard_ratio"]
    page = regdash(*words, store=store).stdout
    assert "Their variance is that of patients" in " ".join(page.split())
    assert "Wald" in page


def test_json_names_the_groups_of_a_gap_and_gives_the_limits_of_shares(store):
    answer = regdash("gap", "--by", "class", "--json", store=store).json
    assert answer["groups"] == {"group_a": "partial", "group_b": "total"}
    assert answer["years"] == 10
    assert [row["reason"] for row in answer["share_limits"]] == [row["reason"] for row in answer["rows"][:-1]]
    assert all(row["lower"] < row["share"] < row["upper"] for row in answer["share_limits"])


def test_a_withheld_share_says_why_and_the_difference_stays(store):
    rows = regdash("gap", "--by", "sex", "class=partial", "--years", "1", "--json", store=store).json["rows"]
    assert all(row["share"] is None and row["difference"] is not None for row in rows)
    assert all("include 0" in row["withheld"] for row in rows)


def test_differences_stand_beside_their_risks_and_the_reference_has_none(store):
    rows = regdash("risk", "--by", "class", "--years", "10", "--difference", "--json", store=store).json["rows"]
    total, partial = rows
    assert (total["reference"], total["difference"]) == ("total", None)
    assert "withheld" not in total
    assert math.isclose(partial["difference"], partial["estimate"] - total["estimate"])
    assert partial["difference_lower"] < partial["difference"] < partial["difference_upper"]


def test_a_standardised_risk_states_the_population(store):
    answer = regdash("risk", "--by", "class", "--years", "5", "--standardise", "sex", "--json", store=store).json
    assert [row["stratum"] for row in answer["standard_population"]] == ["female", "male"]
    assert math.isclose(sum(row["share"] for row in answer["standard_population"]), 1)
    assert answer["measure"] == "standardised net revision risk"
    assert [left["field"] for left in answer["left_out"]] == ["sex"]


def test_a_page_names_the_groups_the_model_and_every_test(store):
    page = regdash("compare", "--by", "class", "--windows", "1,5", store=store).stdout
    for said in ("Hazard ratio of revision, by class", "all of follow-up", "1–5 years", "model  Cox's model", "Gray"):
        assert said in page
    assert (
        "partial less total, by 10 years, in percentage points." in regdash("gap", "--by", "class", store=store).stdout
    )


@pytest.mark.parametrize("command", ["compare", "gap"])
def test_without_groups_it_is_wrong_usage(command, store):
    said = regdash(command, store=store)
    assert said.code == 2
    assert f"{command} is between groups, so it needs --by, as in --by class." in one_line(said)


@pytest.mark.parametrize(
    ("words", "code", "message"),
    [
        ("gap --by bearing", 1, "A gap is between two groups, but there are 3: fixed, mobile, one-piece."),
        ("compare --by class --reference x", 1, "There is no group x to compare with."),
        ("compare --by class --windows 5,1", 1, "Windows 5,1 do not follow each other."),
        ("compare --by class --robust patient --firth", 1, "Firth's penalty has limits of its own"),
        ("compare --by hospital --robust hospital", 1, "Groups are made by hospital, so that no scatter"),
        ("compare --by class --robust ward", 2, "'ward' is not one of 'patient', 'surgeon', 'hospital'."),
        ("compare --by class --windows 0,1", 2, "0,1 does not say years."),
        ("compare --by class --adjust bim", 1, "There is no field bim to group by."),
        ("compare --by class ended=revised", 1, "ended is known only after implantation."),
        ("risk --by class --reference total", 2, "so it goes with --difference or --margin."),
        ("risk --difference", 1, "A difference is between groups, and there is one only."),
        ("risk --years 1,2 --given-unrevised 3", 1, "A risk given unrevised at 3 years needs times after that"),
        ("risk --by sex --standardise sex", 1, "Groups are made by sex already"),
        ("gap --by class --view surgeon", 2, "'surgeon' is not one of 'implant', 'patient'."),
    ],
)
def test_what_cannot_be_answered_is_refused_in_one_line(words, code, message, store):
    said = regdash(*words.split(), store=store)
    assert said.code == code
    assert message in one_line(said)


@pytest.mark.parametrize("command", ["compare", "gap"])
def test_help_shows_examples_and_filter_words(command):
    page = regdash(command, "--help").stdout
    assert f"regdash {command} joint=knee --by class" in page
    assert "age=50..59" in page


# ---- smooth ------------------------------------------------------------------------------------


def test_a_curve_in_json_has_rows_tests_and_every_point_and_in_csv_its_rows(store):
    words = ("smooth", "--over", "age", "--adjust", "sex", "--at", "55,60,75")
    answer = regdash(*words, "--json", store=store).json
    assert (answer["by"], answer["over"], answer["reference_is_median"], answer["adjust"]) == (
        "age",
        "age",
        True,
        "sex",
    )
    assert answer["knot_percentiles"] == [5, 35, 65, 95]
    assert [test["test"] for test in answer["tests"]] == ["association", "non-linearity", "proportionality"]
    told = [row["value"] for row in answer["rows"] if row["value"] is not None]
    assert told == sorted({answer["shown_from"], 55, 60, 75, answer["reference"]})
    points = {point["value"]: point for point in answer["curve"]}
    assert (min(points), max(points)) == (answer["shown_from"], answer["shown_to"])
    for row in answer["rows"]:
        if "withheld" not in row:
            assert math.isclose(row["hazard_ratio"], points[row["value"]]["hazard_ratio"], rel_tol=1e-12)
    rows = regdash(*words, "--csv", store=store).csv
    assert list(rows[0])[:3] == ["value", "from_value", "to_value"]
    assert sum(int(row["joints"]) for row in rows) == answer["modelled_joints"]


@pytest.mark.parametrize("width", [79, 120])
def test_a_page_of_a_curve_keeps_to_its_width_and_names_its_reference(store, width, monkeypatch):
    monkeypatch.setattr("regdash.cli.printing.page_width", lambda: width)
    said = regdash("smooth", "--over", "age", "--reference", "65", "--robust", "patient", store=store)
    assert max(map(len, said.stdout.splitlines())) <= width
    assert "1, the reference" in said.stdout
    assert "knots     " in said.stdout
    assert "by the scatter of patients" in " ".join(said.stdout.split())


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("--over", "sex"), "sex is no number, along which a curve could run. It may be: volume, age, bmi."),
        (("--at", "ten"), "ten does not say values. Write numbers, as in 10,20,50."),
        (("--knots", "2"), "2 is not in the range 3<=x<=5."),
        (("--over", "age", "--reference", "8"), "The reference 8 lies outside"),
    ],
)
def test_a_curve_that_cannot_be_is_refused_in_one_line(store, words, says):
    assert says in one_line(regdash("smooth", *words, store=store))
