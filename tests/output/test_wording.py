"""Words and numbers as people read them."""

import pytest

from regdash import cohort as filters
from regdash import grouping
from regdash.output.wording import cohort_in_words, grouping_in_words, number, p_value, percent


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
