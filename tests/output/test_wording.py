"""Words and numbers as people read them."""

import re

import pytest

from regdash import cohort as filters
from regdash import grouping
from regdash.output.people import as_text
from regdash.output.wording import cohort_in_words, grouping_in_words, number, p_value, percent, with_limits
from tests.cuts import joint
from tests.reports.desks import EVERYTHING, desk_of


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ("", "every joint of the data cut"),
        ("class=partial", "class partial"),
        ("bearing=fixed,mobile", "bearing fixed or mobile"),
        ("hospital!=H012", "hospital not H012"),
        ("age=50..59", "age 50 to 59"),
        ("age=..49", "age up to 49"),
        ("implanted=2015..", "implanted 2015 or more"),
        ("implanted=2015Q1", "implanted 2015Q1"),
        ("sex=not-recorded", "sex not recorded"),
    ],
)
def test_a_cohort_is_said_in_words(words, said):
    assert cohort_in_words(filters.parse(words)) == said


def test_a_range_of_decimals_says_that_it_stops_short_of_its_upper_end():
    assert cohort_in_words(filters.parse("bmi=30..35")) == "bmi 30 to under 35"
    assert cohort_in_words(filters.parse("bmi=..30")) == "bmi under 30"


def test_a_grouping_says_its_bands():
    assert grouping_in_words(grouping.parse("age:10,sex")) == "age in bands of 10, and sex"
    assert grouping_in_words(grouping.parse("joint,class")) == "joint and class"
    assert grouping_in_words(grouping.parse("joint,class,sex")) == "joint, class, and sex"


def test_a_figure_that_is_not_there_is_a_dash_and_not_a_zero():
    assert [percent(None), number(None), p_value(None)] == ["–", "–", "–"]
    assert [percent(0.0), number(0.0), p_value(0.0)] == ["0.0", "0.00", "<0.0001"]


def test_an_estimate_without_limits_says_so_in_place_of_two_dashes():
    assert with_limits([(1.0, None, None), (0.5, None, 2.0)], 2) == ["1.00 (no limits)", "0.50 (– to 2.00)"]


def test_one_is_written_in_the_singular_wherever_joints_are_counted(tmp_path):
    """A cut of one joint with one revision: no page says "1 joints" or "1 patients"."""
    desk = desk_of(tmp_path, [joint(days=400, ended="revised", reason="infection")], held=[(0, "side-missing")])
    pages = [desk.risk(EVERYTHING, (), (1.0,)), desk.reasons(EVERYTHING, (), 1.0), desk.rates(EVERYTHING)]
    pages += [desk.describe(EVERYTHING), desk.joints(EVERYTHING, offset=5)]
    said = " ".join(" ".join(as_text(page).split()) for page in pages)
    assert not re.findall(r"(?<![\d.,–])1 (?:joints|patients|revisions|years|groups|rows)\b", said)
    assert "joints 1 in 1 patient;" in said
    assert "1 revision held back" in said
    assert "by 1 year." in said
