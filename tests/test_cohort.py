"""The filter language: what is read, printed, refused, and which joints it chooses."""

from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from regdash import fields, vocabulary
from regdash.cohort import Cohort, candidates, parse, split
from regdash.errors import FilterError
from regdash.fields import FIELDS, Field
from regdash.store.cuts import Cut
from tests.cuts import Row, completed, component, components_of, joint, make_cut, random_joints

CODE_TEXT = st.text("ABCXYZ019-/. '\"\\", min_size=1, max_size=8).map(str.strip).filter(bool)


def number(field: Field) -> st.SearchStrategy[str]:
    if field.kind == "whole":
        return st.integers(0, 120).map(str)
    return st.decimals(0, 80, places=1).map(str)


def span(ends: st.SearchStrategy[Any]) -> st.SearchStrategy[str]:
    both = st.tuples(ends, ends).map(lambda pair: sorted(pair, key=lambda end: Decimal(end) if _plain(end) else end))
    return st.one_of(both.map(lambda pair: f"{pair[0]}..{pair[1]}"), ends.map("{}..".format), ends.map("..{}".format))


def _plain(text: str) -> bool:
    return text.replace(".", "", 1).isdigit()


def one_value(field: Field) -> st.SearchStrategy[str]:
    if field.kind == "words":
        return st.sampled_from(field.choices).map(vocabulary.coded)
    if field.kind == "code":
        return CODE_TEXT
    if field.kind == "date":
        years = st.integers(1990, 2030).map(str)
        return st.one_of(years, span(years), st.sampled_from(["2015Q3", "2015-03", "2015-03-31", "2014..2015Q2"]))
    return st.one_of(number(field), span(number(field)), st.just("not-recorded"))


@st.composite
def words(draw: st.DrawFn, keys: tuple[str, ...] = tuple(FIELDS)) -> list[str]:
    chosen = draw(st.lists(st.sampled_from(keys), unique=True, max_size=5))
    said = []
    for key in chosen:
        values = draw(st.lists(one_value(FIELDS[key]), min_size=1, max_size=3))
        said.append(f"{key}{draw(st.sampled_from(['=', '!=']))}{','.join(values)}")
    return said


@given(words())
def test_a_printed_filter_reads_back_as_itself(said: list[str]) -> None:
    cohort = parse(said, outcomes=True)
    assert parse(str(cohort), outcomes=True) == cohort
    assert parse(cohort.words, outcomes=True) == cohort


@given(words())
def test_the_order_of_words_does_not_matter(said: list[str]) -> None:
    assert parse(said, outcomes=True) == parse(reversed(said), outcomes=True)


def test_words_print_in_one_canonical_order() -> None:
    assert str(parse("age=50..59 sex=female class=partial")) == "class=partial sex=female age=50..59"


def test_a_value_with_a_space_is_quoted_when_printed() -> None:
    cohort = parse(["lot=L 12"])
    assert str(cohort) == "'lot=L 12'"
    assert cohort.words == ("lot=L 12",)


@pytest.mark.parametrize(
    ("said", "told"),
    [
        ("clas=partial", "There is no filter word clas. Nearest: class"),
        ("class=parshal", "class has no value parshal. Nearest: partial."),
        ("reason=tibial-loosening", "reason has no value tibial-loosening. Nearest: "),
        ("class", "class is not a filter word. Write key=value"),
        ("class=", "class needs a value"),
        ("class=partial,", "class has an empty value between its commas"),
        ("age=old", "age wants a whole number or a range"),
        ("age=50.5", "age wants a whole number or a range"),
        ("age=60..50", "age=60..50 runs backwards"),
        ("age=..", "age=.. is open at both ends"),
        ("implanted=2015..2012", "2015..2012 runs backwards"),
        ("implanted=2015-13", "2015-13 is not a date"),
        ("implanted=2015-02-30", "2015-02-30 is not a date"),
        ("implanted=not-recorded", "not-recorded is not a date"),
        ("implanted=..", "A range of dates needs an end"),
        ("role=femoral role=tibial", "role is asked for twice, and no component is both"),
        ('size="5', "The filter has a quote without its partner"),
    ],
)
def test_what_cannot_be_read_is_refused_in_one_sentence(said: str, told: str) -> None:
    with pytest.raises(FilterError) as caught:
        parse(said)
    assert told in str(caught.value)


@pytest.mark.parametrize("key", fields.OUTCOMES)
def test_an_outcome_cannot_choose_a_cohort(key: str) -> None:
    with pytest.raises(FilterError, match=f"^{key} is known only after implantation"):
        parse(FIELDS[key].example)
    assert parse(FIELDS[key].example, outcomes=True).outcome_keys == (key,)


def test_every_example_of_a_field_can_be_read() -> None:
    for field in FIELDS.values():
        assert str(parse(field.example, outcomes=True)) == field.example


def test_a_code_that_the_cut_lacks_is_refused_with_the_nearest() -> None:
    known = {"hospital": ("H001", "H012", "not recorded")}
    assert str(parse("hospital=h012,not-recorded", known=known)) == "hospital=H012,not-recorded"
    with pytest.raises(FilterError, match=r"hospital has no value H013\. Nearest: H001, H012"):
        parse("hospital=H013", known=known)


def test_having_replaces_a_word_on_the_same_field() -> None:
    cohort = parse("class=total age=60..")
    assert str(cohort.having("age=70..")) == "class=total age=70.."
    assert str(cohort.having("age!=70")) == "class=total age=60.. age!=70"
    assert str(cohort.without("age")) == "class=total"


@pytest.mark.parametrize(
    ("before", "word", "after"),
    [
        ("class=total,partial", "class=total", "class=total"),
        ("class!=partial", "class=total", "class=total"),
        ("class!=total", "class=total", "class=total class!=total"),
        ("age=50..79", "age=60..69", "age=60..69"),
        ("age=65..", "age=60..69", "age=60..69 age=65.."),
        ("age=65", "age=65..65", "age=65 age=65..65"),
        ("bmi=25..30", "bmi=30", "bmi=25..30 bmi=30"),  # decimals stop short of the upper end: no joint is both
        ("implanted=2015..2018", "implanted=2016", "implanted=2016"),
        ("implant=KF-001", "role=femoral", "implant=KF-001 role=femoral"),
    ],
)
def test_narrowing_drops_only_what_is_implied(before: str, word: str, after: str) -> None:
    assert str(parse(before).narrowed(word)) == after


def test_periods_are_whole_days_closed_at_both_ends() -> None:
    (condition,) = parse("implanted=2015Q1..2016-02").conditions
    (span_of_days,) = condition.values
    assert (span_of_days.lower, span_of_days.upper) == (date(2015, 1, 1), date(2016, 2, 29))


def test_completion_offers_whole_words() -> None:
    known = {"hospital": ("H001", "H002")}
    assert candidates("class=partial bear", known) == ["bearing="]
    assert candidates("hospital=H001,h", known) == ["hospital=H001,H001", "hospital=H001,H002"]
    assert candidates("bearing=not", known) == ["bearing=not-applicable", "bearing=not-recorded"]
    assert candidates("joint=knee bearing=not", known) == ["bearing=not-recorded"]
    assert candidates("joint=knee,hip bearing=not", known) == candidates("bearing=not", known)
    assert candidates("reas", known) == []
    assert candidates("reas", known, outcomes=True) == ["reason="]
    assert candidates("nothing=", known) == []


def test_a_line_is_split_as_a_shell_would() -> None:
    assert split("class=total 'lot=L 1'") == ("class=total", "lot=L 1")


# ---- which joints a filter chooses -----------------------------------------------------------


JOINTS = random_joints(400, seed=7)
ROWS = [completed(number, row) for number, row in enumerate(JOINTS)]


@pytest.fixture(scope="module")
def cut(tmp_path_factory: pytest.TempPathFactory) -> Cut:
    return Cut(make_cut(tmp_path_factory.mktemp("store"), JOINTS))


def chosen(cut: Cut, cohort: Cohort) -> set[int]:
    predicate = cohort.predicate()
    found = cut.rows(f"select joint_no from follow_up where {predicate.sql}", **predicate.parameters)
    return {number for (number,) in found}


_GROUP_OF = {reason.detail: reason.group for reason in vocabulary.REASONS["knee"]}
REAL = {
    "hospital": ("H001", "H003", "H009", "not-recorded"),
    "region": ("R1", "R2"),
    "surgeon": ("S0011", "S0020", "not-recorded"),
    "construct": ("KF-001/KT-001", "UF-002/UT-002", "not-recorded"),
    "implant": ("KF-001", "KI-002", "KS-001", "not-recorded"),
    "maker": ("M01", "M02"),
    "catalogue": ("KF001-5", "UI001-5"),
    "size": ("1", "2", "5"),
    "lot": ("L1", "not-recorded"),
}


def _real_value(field: Field) -> st.SearchStrategy[str]:
    if field.key in REAL:
        return st.sampled_from(REAL[field.key])
    if field.kind == "date":
        return st.sampled_from(["2010", "2009..2014", "..2012Q2", "2015-03.."])
    if field.kind == "whole":
        return st.sampled_from(["68", "60..69", "..49", "70..", "not-recorded"])
    return one_value(field)


@st.composite
def real_words(draw: st.DrawFn) -> list[str]:
    keys = draw(st.lists(st.sampled_from(tuple(FIELDS)), unique=True, min_size=1, max_size=3))
    signs = st.sampled_from(["=", "!="])
    return [
        f"{key}{draw(signs)}{','.join(draw(st.lists(_real_value(FIELDS[key]), min_size=1, max_size=2)))}"
        for key in keys
    ]


def _meets(row: Row, key: str, text: str) -> bool:
    """Say by plain comparison whether a joint, or one component of it, has one value; written without the program."""
    field = FIELDS[key]
    value = row[field.column]
    if key == "reason":
        # A word that names both a group and one of its details means the whole group.
        own = set() if value in _GROUP_OF.values() or value is None else {value}
        return text in {vocabulary.coded(name) for name in own | {row["reason_group"] or "none"}}
    if field.outcome and value is None:
        return False  # never revised, so there was nothing to record
    if text == "not-recorded":
        return value in (None, "", "not recorded")
    if value is None:
        return False
    if field.kind in ("words", "code"):
        shown = {True: "yes", False: "no"}.get(value, value) if field.enum == "boolean" else value
        return vocabulary.coded(str(shown)) == text
    if field.kind == "date":
        return _within_dates(value, text)
    lower, dots, upper = text.partition("..")
    number_ = Decimal(str(value))
    if not dots:
        return number_ == Decimal(lower)
    below = number_ < Decimal(upper or "1e9") if field.kind == "decimal" else number_ <= Decimal(upper or "1e9")
    return Decimal(lower or "-1e9") <= number_ and below


def _within_dates(value: date, text: str) -> bool:
    ends = {
        "2010": ("2010-01-01", "2010-12-31"),
        "2009..2014": ("2009-01-01", "2014-12-31"),
        "..2012Q2": ("0001-01-01", "2012-06-30"),
        "2015-03..": ("2015-03-01", "9999-12-31"),
    }[text]
    return ends[0] <= value.isoformat() <= ends[1]


def _plainly(said: list[str]) -> set[int]:
    kept = set()
    for number_, row in enumerate(ROWS):
        together = []
        fits = True
        for word in said:
            key, _, texts = word.replace("!=", "=").partition("=")
            any_of = texts.split(",")
            if FIELDS[key].component:
                if "!=" in word:
                    fits &= not any(_meets(line, key, t) for line in row["components"] for t in any_of)
                else:
                    together.append((key, any_of))
            else:
                fits &= any(_meets(row, key, t) for t in any_of) != ("!=" in word)
        if together:
            fits &= any(
                all(any(_meets(line, key, t) for t in any_of) for key, any_of in together) for line in row["components"]
            )
        if fits:
            kept.add(number_)
    return kept


@given(said=real_words())
def test_a_filter_chooses_the_joints_that_a_plain_reading_chooses(cut: Cut, said: list[str]) -> None:
    cohort = parse(said, outcomes=True)
    assert chosen(cut, cohort) == _plainly(said)


@given(before=real_words(), added=real_words())
def test_narrowing_chooses_the_joints_that_meet_both(cut: Cut, before: list[str], added: list[str]) -> None:
    components = [word for word in (*before, *added) if FIELDS[word.replace("!=", "=").partition("=")[0]].component]
    if components:
        return  # words on components speak of one component together, so they do not simply add up
    first, second = parse(before, outcomes=True), parse(added, outcomes=True)
    assert chosen(cut, first.narrowed(*second.words)) == chosen(cut, first) & chosen(cut, second)


def test_component_words_speak_of_one_and_the_same_component(tmp_path: Path) -> None:
    cut = Cut(make_cut(tmp_path, [joint(), joint(construct="KF-002/KT-001")]))
    assert chosen(cut, parse("implant=KF-001 role=femoral")) == {0}
    assert chosen(cut, parse("implant=KF-001 role=tibial")) == set()
    assert chosen(cut, parse("implant!=KF-001")) == {1}


def test_a_component_put_in_at_a_revision_is_no_part_of_the_primary(tmp_path: Path) -> None:
    later = component("stem", "KS-009", in_day=300)
    cut = Cut(make_cut(tmp_path, [joint(components=[*components_of("KF-001/KT-001"), later]), joint()]))
    assert chosen(cut, parse("implant=KS-009")) == set()
    assert chosen(cut, parse("implant!=KS-009")) == {0, 1}


def test_whole_numbers_are_closed_and_decimals_half_open(tmp_path: Path) -> None:
    cut = Cut(
        make_cut(tmp_path, [joint(age=age, bmi=bmi) for age, bmi in [(59, 29.9), (60, 30.0), (69, 35.0), (70, None)]])
    )
    assert chosen(cut, parse("age=60..69")) == {1, 2}
    assert chosen(cut, parse("bmi=30..35")) == {1}
    assert chosen(cut, parse("bmi=not-recorded")) == {3}
    assert chosen(cut, parse("bmi!=30..35")) == {0, 2, 3}


def test_a_value_that_is_not_in_the_cut_chooses_no_joint(cut: Cut) -> None:
    assert chosen(cut, parse("hospital=H777")) == set()


def test_a_value_with_a_quote_in_it_is_only_a_value(cut: Cut) -> None:
    assert chosen(cut, parse(["lot=L1' or 'a'='a"])) == set()
