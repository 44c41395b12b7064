"""Field lists: those that come with the program, a store's own, and what a list cannot say, in one line each."""

import re

import pytest

from regdash import vocabulary
from regdash.cohort import parse
from regdash.errors import ExtractError
from regdash.extracts.chosen import refuse_finer
from regdash.extracts.coarseness import read_coarseness
from regdash.extracts.field_list import list_names, list_of, read_list
from regdash.extracts.sources import SOURCES
from tests.extracts.made import LIST, MAKER, a_list


def test_the_lists_that_come_with_the_program_can_be_read(tmp_path):
    research, maker = (read_list(tmp_path, name) for name in ("joints-for-research", "own-implants"))
    assert list_names(tmp_path) == ["joints-for-research", "own-implants"]
    assert (research.k, maker.k) == (10, 10)
    assert maker.recipients == ("maker",)
    for one in (research, maker):
        assert not {"hospital", "surgeon", "region", "lot", "catalogue"} & set(one.told)
        assert one.told["implanted"].way != "day"


def test_a_stores_own_list_stands_before_the_one_that_comes_with_the_program(tmp_path):
    (tmp_path / "extracts").mkdir()
    (tmp_path / "extracts" / "own-implants.toml").write_text(LIST.replace("A list", "Ours"))
    (tmp_path / "extracts" / "more.toml").write_text(LIST)
    assert read_list(tmp_path, "own-implants").title == "Ours"
    assert list_names(tmp_path) == ["joints-for-research", "more", "own-implants"]


@pytest.mark.parametrize(
    ("lines", "told"),
    [
        ({"version": "1"}, "version is a text, not 1"),
        ({"colour": '"red"'}, r"\[fields\] has colour"),
        ({"k": "1"}, "k is a whole number from 2 up"),
        ({"k": "true"}, "k is a whole number, not True"),
        ({"rows": '"patients"'}, "rows has patients"),
        ({"recipients": '["neighbour"]'}, "recipients has neighbour"),
        ({"quasi_identifiers": '["joint", "class", "sex", "age"]'}, "others may know implanted"),
        ({"quasi_identifiers": '["joint", "sex", "age", "implanted", "ended"]'}, "ended is what is asked for"),
        ({"quasi_identifiers": '["joint", "sex", "age", "implanted", "asa"]'}, "quasi_identifiers has asa"),
        ({"age": '"bands of 7 from 50 to 90"'}, "age = .* cannot be"),
        ({"age": '"group"'}, "age = 'group' cannot be. It may be: as recorded, bands of 10 from 50 to 80"),
        ({"bmi": '"bands at 30, 25"'}, "edges of bands rise"),
        ({"diagnosis": '"only backache"'}, "diagnosis has no word backache"),
        ({"implanted": '"day"'}, "to the day only where the list says exact_dates"),
        ({"implanted": '"none"'}, "quasi_identifiers has implanted"),
        ({"followed": "12"}, "followed = 12 cannot be"),
        ({"surgeon": '"as recorded"'}, "has surgeon"),
        ({"patient": '"as recorded"'}, "has patient"),
        ({"implant": '"as recorded"'}, "has implant"),
    ],
)
def test_what_a_list_cannot_say_is_refused_in_one_line(lines, told):
    with pytest.raises(ExtractError, match=told) as refusal:
        a_list(**lines)
    assert "\n" not in str(refusal.value)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("", "the list says no version"),
        ("a = [", "this is not TOML"),
        (LIST.replace("[fields]", "[field]"), "field is no setting. Nearest: fields"),
        (MAKER.replace("lots = true", "lots = false"), "lots are told only where"),
        (MAKER.replace('rows = "components"', 'rows = "joints"'), "has role"),
        (LIST.replace("k = 5", "one_maker = true"), 'rows = "components"'),
        (
            LIST.replace('implanted = "year"', "").replace(', "implanted"', ""),
            "followed tells when a joint still in place",
        ),
    ],
)
def test_a_list_whose_parts_do_not_fit_is_refused(text, told):
    with pytest.raises(ExtractError, match=told):
        list_of("a-list", text)


def test_a_list_that_is_not_there_is_named_with_those_that_are(tmp_path):
    with pytest.raises(ExtractError, match=r"no field list research. .*joints-for-research"):
        read_list(tmp_path, "research")


def refusal(words: str) -> str | None:
    """What is said against a filter; None where it is taken."""
    try:
        refuse_finer(a_list(), parse(words))
    except ExtractError as refused:
        return str(refused)
    return None


@pytest.mark.parametrize(
    "words",
    ["age=50..69", "age=90..", "age!=..49", "implanted=2015", "implanted=..2014", "implanted=2015-01-01..2016-12-31"]
    + ["bmi=25..30.5", "bmi=not-recorded", "diagnosis=tumour", "sex=male", "asa=III", "construct=KF-001/KT-001"],
)
def test_a_filter_of_whole_groups_is_taken(words):
    assert refusal(words) is None


@pytest.mark.parametrize(
    "words",
    ["age=63", "age=50..68", "age!=60..69", "implanted=2015-03", "implanted=2015-06-01..", "implanted=2015-03-04"]
    + ["bmi=25..30", "diagnosis=osteonecrosis", "hospital=H001", "surgeon!=S0001", "lot=L1"],
)
def test_a_filter_that_would_tell_more_than_the_list_is_refused(words):
    """The page of an extract says its filter: a day, an age or a hospital there would be told of every row."""
    assert re.search(r"finer than|No extract tells|tells no lots", refusal(words) or "")


def test_a_field_that_the_list_leaves_out_cannot_choose_rows():
    with pytest.raises(ExtractError, match="leaves region out"):
        refuse_finer(a_list(region='"none"'), parse("region=R1"))


def test_every_kind_of_field_can_be_told_and_left_out():
    """No source is without a way to tell it, and none of them is a name, a number of somebody or free text."""
    for source in SOURCES.values():
        assert read_coarseness(source.name, source.kind, source.words, "none").way == "none"
    assert not {"patient", "hospital", "surgeon", "operation", "serial", "note"} & set(SOURCES)
    assert set(SOURCES["sex"].words) == set(vocabulary.SEXES)
