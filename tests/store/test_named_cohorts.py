"""Named cohorts: the last line of a name stands, lines are only added, and text comes back as it went out."""

import sqlite3
from contextlib import closing

import pytest

from regdash import cohort
from regdash.errors import FilterError
from regdash.store.named_cohorts import (
    as_lines,
    cohort_lines,
    named_cohorts,
    read_lines,
    remove_cohort,
    save_cohorts,
)
from regdash.store.office import office_path

YOUNG = {"young": "joint=knee age=..54"}


def test_the_last_line_of_a_name_stands_and_says_who_wrote_it(tmp_path, monkeypatch):
    monkeypatch.setenv("REGDASH_USER", "first analyst")
    save_cohorts(tmp_path, YOUNG, "each spring")
    monkeypatch.setenv("REGDASH_USER", "second analyst")
    save_cohorts(tmp_path, {"Young": "joint=knee age=..49"})
    lines = cohort_lines(tmp_path)
    assert [(line.number, line.words, line.saved_by, line.note) for line in lines] == [
        (1, "joint=knee age=..54", "first analyst", "each spring"),
        (2, "joint=knee age=..49", "second analyst", ""),
    ]
    assert named_cohorts(tmp_path) == {"young": lines[1]}


def test_saying_the_same_again_writes_nothing(tmp_path):
    save_cohorts(tmp_path, YOUNG, "each spring")
    save_cohorts(tmp_path, YOUNG)
    assert len(cohort_lines(tmp_path)) == 1


def test_a_removed_name_stands_for_nothing_and_its_lines_stay(tmp_path):
    save_cohorts(tmp_path, YOUNG)
    assert remove_cohort(tmp_path, "@young").removed
    assert named_cohorts(tmp_path) == {}
    assert len(cohort_lines(tmp_path)) == 2
    with pytest.raises(FilterError, match="No cohort is named young"):
        remove_cohort(tmp_path, "young")
    save_cohorts(tmp_path, YOUNG)
    assert list(named_cohorts(tmp_path)) == ["young"]


def test_lines_cannot_be_changed_or_taken_away(tmp_path):
    save_cohorts(tmp_path, YOUNG)
    with closing(sqlite3.connect(office_path(tmp_path))) as office:
        for act in ("update named_cohorts set words = ''", "delete from named_cohorts"):
            with pytest.raises(sqlite3.IntegrityError, match="append-only"):
                office.execute(act)


def test_text_comes_back_as_it_went_out(tmp_path):
    several = {**YOUNG, "partial-2015": "joint=knee class=partial implanted=2015.."}
    save_cohorts(tmp_path, several)
    assert read_lines("# for the committee\n\n" + as_lines(named_cohorts(tmp_path).values())) == several


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("a: joint=hip\nhips", "Line 2: Write a name, a colon"),
        ("a: joint=hip\nA: sex=male", "Line 2: a comes twice"),
        ("no name: joint=hip", "Line 1: no name cannot be a name"),
    ],
)
def test_a_line_that_is_none_is_named(text, says):
    with pytest.raises(FilterError, match=says):
        read_lines(text)


def test_a_name_stands_for_its_words_in_canonical_order():
    named = {"young": "age=..54 joint=knee"}
    assert str(cohort.parse("sex=male @Young", named=named)) == "joint=knee sex=male age=..54"
    assert cohort.candidates("sex=male @y", {}, named=named) == ["@young"]


def test_a_name_or_words_that_do_not_hold_are_refused_with_the_nearest():
    with pytest.raises(FilterError, match=r"No cohort is named yong\. Nearest: young"):
        cohort.parse("@yong", named={"young": "age=..54"})
    with pytest.raises(FilterError, match=r"@old was saved as jont=knee, which holds no longer.*Nearest: joint"):
        cohort.parse("@old", named={"old": "jont=knee"})
    with pytest.raises(FilterError, match="@young names a saved cohort, and no names are read here"):
        cohort.parse("sex=male @young")
    known = {"hospital": ("H001", "H002")}
    with pytest.raises(FilterError, match=r"@mine was saved as hospital=H00.*has no value H009"):
        cohort.parse("@mine", named={"mine": "hospital=H009"}, known=known)
