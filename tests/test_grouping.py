"""Groupings: how they are read, how groups are named, and that a group's words choose exactly its joints."""

import pytest

from regdash import cohort, grouping
from regdash.errors import FilterError
from regdash.fields import FIELDS
from regdash.grouping import UNKNOWN, Grouping
from regdash.reports.counted import count
from regdash.store.cuts import Cut
from tests.cuts import make_cut, random_joints

GROUPABLE = [field.key for field in FIELDS.values() if not field.component and not field.outcome]
WIDTHS = ["age:10", "age:1", "age:7", "bmi:5", "bmi:1", "volume:25", "implanted:5", "implanted:1"]


@pytest.fixture(scope="module")
def cut(tmp_path_factory: pytest.TempPathFactory) -> Cut:
    return Cut(make_cut(tmp_path_factory.mktemp("store"), random_joints(600, seed=3)))


def chosen(cut: Cut, words: tuple[str, ...]) -> set[int]:
    predicate = cohort.parse(words, known=cut.known).predicate()
    found = cut.rows(f"select joint_no from follow_up where {predicate.sql}", **predicate.parameters)
    return {number for (number,) in found}


@pytest.mark.parametrize("asked", [*GROUPABLE, *WIDTHS, "class,sex,age:10", "hospital,class"])
@pytest.mark.parametrize("within", ["", "age=55..73 class=total,partial", "bmi!=30..35 implanted=2008..2019"])
def test_the_words_of_a_group_choose_exactly_its_joints(cut: Cut, asked: str, within: str) -> None:
    """The groups are apart, together they are the cohort, and each has as many joints as were counted."""
    asked_of = cohort.parse(within)
    counted = count(cut, asked_of, grouping.parse(asked))
    whole = chosen(cut, asked_of.words)
    parts = [chosen(cut, group.words) for group in counted.groups]
    assert set().union(*parts) == whole
    assert sum(map(len, parts)) == len(whole)
    assert [counted.table.of(n).joints for n in range(len(parts))] == [len(part) for part in parts]
    assert all(parts)


@pytest.mark.parametrize("asked", [*GROUPABLE, *WIDTHS])
def test_labels_of_groups_differ(cut: Cut, asked: str) -> None:
    labels = [group.label for group in count(cut, cohort.Cohort(), grouping.parse(asked)).groups]
    assert len(set(labels)) == len(labels)


def test_groups_come_in_the_order_of_their_field_not_recorded_last(cut: Cut) -> None:
    def labels(asked: str) -> list[str]:
        return [group.label for group in count(cut, cohort.Cohort(), grouping.parse(asked)).groups]

    assert labels("age") == ["under 50", "50–59", "60–69", "70–79", "80 and over"]
    assert labels("bmi") == [
        "under 25",
        "25 to under 30",
        "30 to under 35",
        "35 to under 40",
        "40 and over",
        "not recorded",
    ]
    assert labels("class,sex")[:4] == ["total, female", "total, male", "total, not recorded", "partial, female"]
    assert labels("hospital") == [f"H{number:03d}" for number in range(1, 9)]
    assert labels("construct") == sorted(labels("construct")[:-1]) + ["not recorded"]
    assert labels("implanted:10") == ["2000–2009", "2010–2019", "2020–2029"]
    assert labels("") == ["all"]
    heads = [grouping.parse(asked)[0] for asked in ("head", "head:4")]
    assert [heads[0].label(n, {}) for n in (0, 1, 4)] == ["under 28 mm", "28–31 mm", "40 mm and over"]
    assert heads[1].label(28, {}) == "28–31 mm"


@pytest.mark.parametrize("asked", ["age", "age:10,sex", "implanted:5", "bmi:5,class"])
def test_a_printed_grouping_reads_back_as_itself(asked: str) -> None:
    read = grouping.parse(asked)
    assert ",".join(map(str, read)) == asked
    assert grouping.parse(",".join(map(str, read))) == read


@pytest.mark.parametrize(
    ("asked", "told"),
    [
        ("clas", "There is no field clas to group by. Nearest: class"),
        ("reason", "reason is known only after implantation"),
        ("implant", "A joint holds several implants, so implant does not split joints into groups"),
        ("age:0", "age:0 is not a grouping"),
        ("age:x", "age:x is not a grouping"),
        ("age:", "age: is not a grouping"),
        ("sex:2", "sex:2 is not a grouping"),
        ("age,age:10", "age is named twice in the grouping"),
    ],
)
def test_what_cannot_group_is_refused_in_one_sentence(asked: str, told: str) -> None:
    with pytest.raises(FilterError) as caught:
        grouping.parse(asked)
    assert told in str(caught.value)


def test_more_groups_than_anybody_can_read_are_refused(cut: Cut) -> None:
    with pytest.raises(FilterError, match="more than the 20 that can be shown"):
        count(cut, cohort.Cohort(), grouping.parse("surgeon,class"), most=20)


def test_a_list_of_the_cut_names_groups_before_the_vocabulary_does() -> None:
    """An older cut's numbers mean what its own list says."""
    by_sex = Grouping(FIELDS["sex"])
    assert by_sex.label(0, {"sex": ("male", "female", "not recorded")}) == "male"
    assert by_sex.word(0, {"sex": ("male", "female", "not recorded")}) == "sex=male"
    assert by_sex.label(0, {}) == "female"
    assert by_sex.label(UNKNOWN, {}) == "not recorded"
