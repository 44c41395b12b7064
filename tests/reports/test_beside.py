"""Two cohorts side by side: each as it is by itself, joints of both named, and no difference of groups that overlap."""

import pytest

from regdash import grouping
from regdash.errors import FilterError
from regdash.reports.desk import Desk
from tests.cuts import random_joints
from tests.reports.desks import asked, desk_of

YEARS = (1.0, 5.0, 10.0)


@pytest.fixture(scope="module")
def desk(tmp_path_factory: pytest.TempPathFactory) -> Desk:
    return desk_of(tmp_path_factory.mktemp("beside"), random_joints(4000))


@pytest.mark.parametrize("view", ["implant", "patient"])
def test_each_of_two_cohorts_is_what_it_is_by_itself(desk: Desk, view: str) -> None:
    one, other = asked(desk, "class=partial"), asked(desk, "age=..69")
    report = desk.risk(one, (), YEARS, view, beside=other)
    assert [group.label for group in report.groups] == ["class=partial", "age=..69"]
    assert [group.words for group in report.groups] == [one.words, other.words]
    for group, cohort in zip(report.groups, (one, other), strict=True):
        alone = desk.risk(cohort, (), YEARS, view).rows
        beside = [row for row in report.rows if row.group == group.label]
        figures = [(row.at_risk, row.revisions, row.estimate, row.lower, row.upper) for row in beside]
        assert figures == [(row.at_risk, row.revisions, row.estimate, row.lower, row.upper) for row in alone]


def test_the_head_counts_each_joint_once_and_says_how_many_are_in_both(desk: Desk) -> None:
    one, other = asked(desk, "class=partial"), asked(desk, "age=..69")
    head = desk.risk(one, (), YEARS, beside=other).head
    both = desk.risk(asked(desk, "class=partial age=..69"), (), YEARS).head
    alone = [desk.risk(cohort, (), YEARS).head for cohort in (one, other)]
    assert both.joints
    assert head.joints == sum(each.joints or 0 for each in alone) - both.joints
    assert head.revisions == sum(each.revisions or 0 for each in alone) - (both.revisions or 0)
    assert (head.cohort, head.beside) == (one, other)
    assert f"{both.joints:,} joints are in both cohorts and counted in both groups" in " ".join(head.cautions)


def test_a_part_of_the_other_cohort_is_called_so(desk: Desk) -> None:
    report = desk.risk(asked(desk, "class=partial"), (), YEARS, beside=asked(desk, "class=partial sex=male"))
    assert [group.label for group in report.groups] == ["class=partial", "with sex=male"]


def test_cohorts_apart_have_the_difference_that_groups_have(desk: Desk) -> None:
    total, partial = asked(desk, "class=total"), asked(desk, "class=partial")
    beside = desk.risk(total, (), YEARS, difference=True, beside=partial)
    grouped = desk.risk(asked(desk, "class=total,partial"), grouping.parse("class"), YEARS, difference=True)
    assert [row.difference for row in beside.differences] == [row.difference for row in grouped.differences]
    assert "No joint is in both cohorts." in beside.head.cautions


def test_no_difference_is_given_where_joints_are_in_both(desk: Desk) -> None:
    with pytest.raises(FilterError, match=r"in both cohorts.*Keep the two apart"):
        desk.risk(asked(desk, "class=partial"), (), YEARS, difference=True, beside=asked(desk, "age=..69"))


def test_reasons_of_two_cohorts_are_those_of_each(desk: Desk) -> None:
    one, other = asked(desk, "class=partial"), asked(desk, "sex=male")
    report = desk.reasons(one, (), 10.0, beside=other)
    alone = {row.reason: row.revisions for row in desk.reasons(other, (), 10.0).rows}
    beside = {row.reason: row.revisions for row in report.rows if row.group == "sex=male"}
    assert {reason: n for reason, n in beside.items() if n} == {reason: n for reason, n in alone.items() if n}


@pytest.mark.parametrize(
    ("by", "beside", "says"),
    [
        ("", "class=partial", "Both cohorts are the same"),
        ("sex", "class=total", "groups cannot be asked for as well"),
    ],
)
def test_what_cannot_stand_side_by_side_is_refused(desk: Desk, by: str, beside: str, says: str) -> None:
    with pytest.raises(FilterError, match=says):
        desk.risk(asked(desk, "class=partial"), grouping.parse(by) if by else (), YEARS, beside=asked(desk, beside))
