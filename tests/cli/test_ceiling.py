"""risk --ceiling and --margin at the command line."""

import math
from pathlib import Path

import pytest

from tests.cli.asking import one_line, regdash
from tests.cuts import make_cut
from tests.reports.test_ceiling import some


@pytest.fixture(scope="module")
def two(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """40 of 1,000 partial knees are revised and 60 of 2,000 total ones."""
    return make_cut(tmp_path_factory.mktemp("store"), some(40, 1000, class_="partial") + some(60, 2000))


def test_json_and_csv_have_the_verdict_beside_each_risk(two):
    words = ("risk", "--by", "class", "--years", "5", "--ceiling", "5")
    total, partial = regdash(*words, "--json", store=two).json["rows"]
    assert (partial["ceiling"], partial["ceiling_at_least"]) == (0.05, 500)
    assert (partial["ceiling_verdict"], partial["ceiling_why"]) == ("cannot say yet", "the limits include the ceiling")
    assert (total["ceiling_verdict"], total["upper"] < 0.05) == ("met", True)
    assert [row["ceiling_verdict"] for row in regdash(*words, "--csv", store=two).csv] == ["met", "cannot say yet"]


def test_json_has_the_excess_over_the_reference_and_its_margin(two):
    words = ("risk", "--by", "class", "--years", "5", "--margin", "100%", "--at-least", "900", "--json")
    total, partial = regdash(*words, store=two).json["rows"]
    assert (partial["margin"], partial["margin_on"], partial["margin_at_least"]) == (1, "total", 900)
    assert math.isclose(partial["excess"], 0.04 - 2 * 0.03)
    assert partial["excess_lower"] < partial["excess"] < partial["excess_upper"] < 0
    assert (partial["margin_verdict"], partial["margin_why"]) == ("met", "the upper limit is below no excess")
    assert (total["excess"], total["margin_verdict"]) == (None, None)


def test_differences_ceilings_and_margins_stand_side_by_side_and_withheld_comes_last(two):
    words = ("risk", "--by", "class", "--years", "5,20", "--ceiling", "5", "--margin", "20", "--difference", "--json")
    rows = regdash(*words, store=two).json["rows"]
    assert all(list(row)[-1] == "withheld" for row in rows if row["years"] == 20)
    assert {row["ceiling_verdict"] for row in rows if row["years"] == 20} == {"cannot say yet"}
    header = regdash(*words[:-1], "--csv", store=two).stdout.splitlines()[0].split(",")
    assert header.index("difference") < header.index("ceiling") < header.index("margin") < header.index("withheld")


def test_a_page_has_a_verdict_for_each_group_and_says_how_it_was_reached(two):
    words = ("risk", "--by", "class", "--years", "5", "--ceiling", "5", "--margin", "20", "--reference", "total")
    page = regdash(*words, store=two).stdout
    said = " ".join(page.split())
    assert "partial 5 5 cannot say yet the limits include the ceiling" in said
    assert "total 5 5 met the upper limit is below the ceiling" in said
    assert "Excess: risk less 1.2 times that of total, in percentage points." in said
    assert "Against a ceiling of 5 %: met where the upper limit is below it" in said
    assert "1.2 times that of the reference" in said


@pytest.mark.parametrize(
    ("words", "code", "message"),
    [
        ("--ceiling 120", 2, "120 does not say a percentage between 0 and 100. Write a number, as in 5."),
        ("--ceiling 0", 2, "0 does not say a percentage between 0 and 100."),
        ("--ceiling five", 2, "five does not say a percentage between 0 and 100."),
        ("--ceiling nan", 2, "nan does not say a percentage"),
        ("--margin -5", 2, "-5 does not say a percentage of 0 or more."),
        ("--margin inf", 2, "inf does not say a percentage of 0 or more."),
        ("--at-least 500", 2, "--at-least is asked of verdicts, so it goes with --ceiling or --margin"),
        ("--ceiling 5 --at-least 0", 2, "0 is not in the range x>=1"),
        ("--ceiling 5 --reference total", 2, "so it goes with --difference or --margin"),
        ("--margin 20", 1, "A margin is on another group's risk, and there is one only."),
        ("--by class --margin 20 --reference x", 1, "There is no group x to compare with."),
    ],
)
def test_a_bar_that_is_none_is_refused_in_one_line(words, code, message, two):
    said = regdash("risk", *words.split(), store=two)
    assert said.code == code
    assert message in one_line(said)
