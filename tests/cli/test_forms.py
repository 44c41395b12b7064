"""What programs read: fields that do not change, rows that are the same in JSON and CSV, and nothing else there."""

import json
import math

import pytest

from regdash import vocabulary
from tests.cli.asking import regdash, words_in
from tests.cli.conftest import REVISED

# The interface that scripts rely on. These lists are written out on purpose: a change here breaks scripts.
HEAD = words_in(
    "measure view endpoint cohort by cut joints patients revisions held_revisions median_follow_up policy method "
    "cautions rows"
)
RISK = words_in("group years at_risk revisions estimate lower upper")
DIFFERENCE = words_in("reference difference difference_lower difference_upper")
COMPARE = words_in("group reference from_years to_years hazard_ratio lower upper p")
GAP = words_in("reason group_a group_b difference lower upper share")
RATES = words_in("group joints implant_years revisions per_100_implant_years lower upper")
REASONS = words_in("group reason years at_risk revisions share incidence lower upper")
CUTS = words_in("cut through known_as_of joints revisions hash")
DESCRIBE = words_in(
    "group joints patients hospitals surgeons first_date last_date mean_age female median_follow_up revised died lost"
)
IMPLANTS = words_in(
    "code role class joints hospitals surgeons first_used last_used implant_years revisions expected "
    "per_100_implant_years lower upper rate_ratio ratio_lower ratio_upper p"
)
JOINTS = words_in(
    "joint_id class construct sex age implanted_date hospital_id surgeon_id followed_years ended reason action"
)
EVENT = words_in("day date what details")

QUESTIONS = {
    "risk": (["risk", "joint=knee", "--by", "class", "--years", "1,5,10,15,21"], RISK),
    "risk of one reason": (["risk", "--by", "age:10,sex", "--reason", "infection"], RISK),
    "risk and differences": (["risk", "--by", "class", "--years", "5,10,22", "--difference"], [*RISK, *DIFFERENCE]),
    "risk at a landmark": (["risk", "--by", "class", "--given-unrevised", "2"], RISK),
    "standardised risk": (["risk", "--by", "class", "--years", "5,22", "--standardise", "sex"], RISK),
    "compare": (["compare", "--by", "class", "--windows", "1,5,20"], COMPARE),
    "gap": (["gap", "--by", "class", "--years", "10"], GAP),
    "rates": (["rates", "class=total", "--by", "hospital"], RATES),
    "reasons": (["reasons", "--by", "class", "--years", "5"], REASONS),
    "describe": (["describe", "--by", "class,sex"], DESCRIBE),
    "implants": (["implants", "class=total"], IMPLANTS),
    "implant": (["implant", "KT-001"], IMPLANTS),
    "joints": (["joints", "ended=revised", "reason=infection"], JOINTS),
    "joint": (["joint", REVISED], EVENT),
}
MAY_BE_WITHHELD = {
    *("risk", "risk of one reason", "risk and differences", "risk at a landmark", "standardised risk"),
    *("compare", "gap", "rates", "reasons", "implants", "implant", "describe"),
}
FIGURES = ("estimate", "incidence", "per_100_implant_years", "hazard_ratio", "share")


def plain(row, columns):
    """A row of JSON as its CSV record: null is empty, a list is its parts, a float its shortest digits."""
    return {column: written(row.get(column)) for column in columns}


def written(value):
    if value is None:
        return ""
    return "; ".join(value) if isinstance(value, list) else repr(value) if isinstance(value, float) else str(value)


@pytest.mark.parametrize("question", QUESTIONS)
def test_json_has_the_fields_that_scripts_rely_on(question, store):
    words, fields = QUESTIONS[question]
    said = regdash(*words, "--json", store=store)
    assert (said.code, said.stderr) == (0, "")
    answer = said.json
    assert [key for key in answer if key in HEAD] == HEAD
    assert answer["rows"]
    for row in answer["rows"]:
        assert [key for key in row if key != "withheld"] == fields


@pytest.mark.parametrize("question", ["risk", "risk of one reason", "rates", "reasons", "describe"])
def test_a_table_by_group_has_those_fields_and_no_others(question, store):
    assert list(regdash(*QUESTIONS[question][0], "--json", store=store).json) == HEAD


@pytest.mark.parametrize("question", QUESTIONS)
def test_csv_is_the_rows_of_json_and_nothing_else(question, store):
    words, fields = QUESTIONS[question]
    said = regdash(*words, "--csv", store=store)
    assert (said.code, said.stderr) == (0, "")
    columns = [*fields, "withheld"] if question in MAY_BE_WITHHELD else fields
    rows = regdash(*words, "--json", store=store).json["rows"]
    assert said.stdout.startswith(",".join(columns) + "\r\n")
    assert said.csv == [plain(row, columns) for row in rows]


@pytest.mark.parametrize("question", sorted(MAY_BE_WITHHELD - {"describe"}))  # which may lack one figure of many
def test_a_figure_is_null_exactly_where_withheld_says_why(question, store):
    words, fields = QUESTIONS[question]
    rows = regdash(*words, "--json", store=store).json["rows"]
    figure = next(f for f in FIGURES if f in fields)
    for row in rows:
        assert (row[figure] is None) == ("withheld" in row)
        assert row.get("withheld", "said") != ""


def test_proportions_run_from_0_to_1_within_their_limits(store):
    rows = regdash("risk", "--by", "class", "--json", store=store).json["rows"]
    shown = [row for row in rows if row["estimate"] is not None]
    assert len(shown) > 4
    assert all(0 <= row["lower"] <= row["estimate"] <= row["upper"] <= 1 for row in shown)


def test_the_answer_says_what_was_asked_in_words_that_are_read_back(store):
    words = ["age=50..79", "class=total", "hospital!=H003"]
    first = regdash("risk", *words, "--by", "sex,age:10", "--json", store=store).json
    assert first["cohort"] == "class=total age=50..79 hospital!=H003"
    assert first["by"] == "sex,age:10"
    again = regdash("risk", *first["cohort"].split(), "--by", first["by"], "--cut", first["cut"], "--json", store=store)
    assert again.json == first


def test_one_reason_is_always_seen_from_the_patient(store):
    answer = regdash("risk", "--reason", "loosening", "--json", store=store).json
    assert (answer["view"], answer["endpoint"]) == ("patient", "revision for loosening")
    assert regdash("risk", "--json", store=store).json["view"] == "implant"


def test_options_stand_before_or_after_filter_words_and_the_command(store):
    orders = [
        ["risk", "class=total", "--by", "sex", "--json", "--store", store],
        ["risk", "--json", "--by", "sex", "--store", store, "class=total"],
        ["--store", store, "--json", "risk", "--by", "sex", "class=total"],
        [f"--store={store}", "risk", "class=total", "--json", "--by=sex"],
    ]
    answers = [regdash(*words) for words in orders]
    assert {said.code for said in answers} == {0}
    assert len({said.stdout for said in answers}) == 1


def test_the_store_may_be_named_in_the_environment(store, monkeypatch):
    monkeypatch.setenv("REGDASH_STORE", str(store))
    assert regdash("cuts", "--json").json["rows"][0]["cut"] == "2024-12-31.1"


def test_a_cut_is_chosen_by_its_date_or_its_name(store):
    for cut in ("2024-12-31", "2024-12-31.1"):
        assert regdash("risk", "--cut", cut, "--json", store=store).json["cut"] == "2024-12-31.1"


def test_cuts_are_listed_with_the_fields_that_scripts_rely_on(store):
    answer = regdash("cuts", "--json", store=store).json
    assert [list(row) for row in answer["rows"]] == [CUTS]
    said = regdash("cuts", "--csv", store=store)
    assert said.csv == [plain(row, CUTS) for row in answer["rows"]]


def test_programs_get_every_joint_and_people_a_page(store):
    everything = regdash("joints", "--csv", store=store).csv
    assert len(everything) == 3001
    assert len(regdash("joints", "--csv", "--limit", "7", "--offset", "2", store=store).csv) == 7
    assert regdash("joints", "--csv", "--limit", "7", "--offset", "2", store=store).csv == everything[2:9]
    assert "Joints 1 to 50 of 3,001." in regdash("joints", store=store).stdout


def test_joints_are_ordered_by_a_column(store):
    years = [
        float(row["followed_years"])
        for row in regdash("joints", "--order", "-followed_years", "--csv", store=store).csv
    ]
    assert years == sorted(years, reverse=True)
    assert years[0] > years[-1]


def test_the_page_of_an_implant_carries_its_parts(store):
    answer = regdash("implant", "kt-001", "--json", store=store).json
    assert [row["code"] for row in answer["rows"]] == ["KT-001"]
    assert {row["group"] for row in answer["risk"]} == {"KT-001", "all others"}
    assert all(answer[part] for part in ("reasons", "windows", "sizes", "hospitals", "surgeons"))


def test_one_joints_life_is_told_in_order(store):
    answer = regdash("joint", REVISED, "--json", store=store).json
    assert answer["joint_id"] == REVISED
    assert [(row["day"], row["date"]) for row in answer["rows"]] == [(0, "2012-03-05"), (400, "2013-04-09")]
    assert answer["facts"]["age_at_the_primary"] == "68"
    assert "birth" not in json.dumps(answer)


def test_the_page_for_people_shows_the_figures_of_the_json(store):
    rows = regdash("rates", "--by", "class", "--json", store=store).json["rows"]
    page = regdash("rates", "--by", "class", store=store).stdout
    for row in rows:
        figures = [f"{row[name]:.2f}" for name in ("per_100_implant_years", "lower", "upper")]
        assert "{} ({} to {})".format(*figures) in page
        assert f"{row['joints']:,}" in page
        assert math.isfinite(row["implant_years"])


def test_reasons_in_detail_are_those_of_the_trade(store):
    rows = regdash("reasons", "--detail", "--json", store=store).json["rows"]
    details = {reason.detail for reason in vocabulary.REASONS["knee"]} | {"not recorded"}
    assert {row["reason"] for row in rows} <= details
    assert any("," in row["reason"] for row in rows)


def test_shares_of_reasons_add_up_to_all_revisions(store):
    rows = regdash("reasons", "--json", store=store).json["rows"]
    assert math.isclose(sum(row["share"] for row in rows), 1)
