"""The question and its history."""

from hypothesis import given
from hypothesis import strategies as st

from regdash import cohort
from regdash.dashboard import wording
from regdash.dashboard.asked import Asked, History, reading_years


def test_what_is_opened_narrows_the_filter_and_never_widens_it():
    asked = Asked(cohort.parse("age=53..57 sex=male"))
    assert str(asked.within(("age=50..59",)).cohort) == "sex=male age=50..59 age=53..57"
    opened = asked.within(("class=partial", "reason=loosening"))
    assert str(opened.cohort) == "class=partial sex=male age=53..57 reason=loosening"


@given(st.lists(st.sampled_from(["change", "undo", "redo"]), max_size=40))
def test_history_is_a_line_that_one_walks_back_and_forth_on(steps):
    history = History(Asked())
    line, at = [history.now], 0
    for number, step in enumerate(steps):
        if step == "change":
            asked = Asked(years=number + 0.5)  # never the first question over again
            history.change(asked)
            line, at = [*line[: at + 1], asked], at + 1
        elif step == "undo":
            assert history.undo() == (at > 0)
            at = max(0, at - 1)
        else:
            assert history.redo() == (at < len(line) - 1)
            at = min(len(line) - 1, at + 1)
        assert history.now == line[at]


def test_asking_the_same_again_is_no_step():
    history = History(Asked())
    assert not history.change(Asked())
    assert not history.undo()


@given(st.floats(0.25, 60))
def test_a_curve_can_be_read_up_to_its_horizon(horizon):
    times = reading_years(horizon)
    assert times[-1] == horizon or abs(times[-1] - horizon) < 1e-9
    assert list(times) == sorted(set(times))
    assert len(times) <= 61


def test_a_cohort_is_said_in_words():
    text = wording.cohort_in_words(cohort.parse("class=partial age=50..59 implanted=2015.. hospital!=H012 bmi=..30"))
    assert text == (
        "class of the replacement is partial; completed years at the primary is 50 to 59; body mass index, kg/m² is "
        "up to 30; "
        "date of the primary is 2015-01-01 or more; hospital of the primary is not H012"
    )
    assert wording.cohort_in_words(cohort.parse("")) == "every joint of the data cut"


def test_small_risks_get_a_second_decimal():
    assert wording.decimals_for([0.2, 0.004, None]) == 1
    assert wording.decimals_for([0.004, 0.012]) == 2
    assert wording.p_value(0.00001) == "<0.0001"
