"""
Knees, hips and shoulders are never in one figure: each joint's figures in a cut of all are those in a cut of its own.

That registries report joints apart is common practice (no published source).
"""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from regdash import grouping
from regdash.cohort import Cohort, parse
from regdash.errors import FilterError
from regdash.reports import wording
from regdash.reports.desk import Desk
from regdash.vocabulary import JOINTS, REASON_GROUPS
from tests.cuts import hip, joint, random_joints, shoulder
from tests.reports.desks import EVERYTHING, desk_of

ROWS = random_joints(900, seed=3, joints=JOINTS)
BY_SEX = grouping.parse("sex")
NOTHING = Cohort()

# Every question that estimates or counts by group, asked of a cohort.
QUESTIONS: dict[str, Callable[[Desk, Cohort, Any], Any]] = {
    "risk": lambda desk, cohort, by: desk.risk(cohort, by, [1, 5, 10]),
    "risk of patients": lambda desk, cohort, by: desk.risk(cohort, by, [1, 5, 10], "patient"),
    "major": lambda desk, cohort, by: desk.risk(cohort, by, [5], endpoint="major"),
    "rates": lambda desk, cohort, by: desk.rates(cohort, by),
    "reasons": lambda desk, cohort, by: desk.reasons(cohort, by, 10),
    "describe": lambda desk, cohort, by: desk.describe(cohort, by),
}


@pytest.fixture(scope="module")
def mixed(tmp_path_factory: pytest.TempPathFactory) -> Desk:
    return desk_of(tmp_path_factory.mktemp("mixed"), ROWS)


@pytest.fixture(scope="module")
def alone(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Desk]:
    """A cut of each joint's rows and nothing else."""
    return {
        name: desk_of(tmp_path_factory.mktemp(name), [row for row in ROWS if row["joint"] == name]) for name in JOINTS
    }


def told(row: Any, without: str = "") -> dict[str, Any]:
    return vars(row) | {"group": row.group.removeprefix(without)}


@pytest.mark.parametrize("question", QUESTIONS)
@pytest.mark.parametrize("by", [(), BY_SEX], ids=["all", "by sex"])
def test_each_joints_figures_are_those_of_a_cut_without_the_others(mixed, alone, question, by):
    report = QUESTIONS[question](mixed, EVERYTHING, by)
    assert [str(g) for g in report.head.by] == ["joint", *map(str, by)]
    assert wording.JOINTS_APART in report.head.cautions
    for name in JOINTS:
        own = [told(row, f"{name}, ") for row in report.rows if row.group.split(", ")[0] == name]
        expected = QUESTIONS[question](alone[name], EVERYTHING, by)
        assert own == [told(row) | ({} if by else {"group": name}) for row in expected.rows]


@pytest.mark.parametrize("question", QUESTIONS)
@pytest.mark.parametrize("name", JOINTS)
def test_a_filter_on_one_joint_changes_nothing(mixed, alone, question, name):
    one = QUESTIONS[question](mixed, parse([f"joint={name}"]), BY_SEX)
    cut = QUESTIONS[question](alone[name], EVERYTHING, BY_SEX)
    assert one.rows == cut.rows
    assert one.head.by == cut.head.by == BY_SEX
    assert one.head.cautions == cut.head.cautions


@pytest.mark.parametrize(
    ("words", "name"),
    [
        ("class=partial", "knee"),
        ("head=28..36", "hip"),
        ("humeral=stemmed", "shoulder"),
        ("joint!=hip,knee", "shoulder"),
    ],
)
def test_a_filter_that_leaves_one_joint_changes_nothing(mixed, alone, words, name):
    """No word of the filter need name the joint."""
    report = mixed.rates(parse(words), BY_SEX)
    assert report.head.by == BY_SEX
    assert wording.JOINTS_APART not in report.head.cautions
    assert report.rows == alone[name].rates(parse(words), BY_SEX).rows


@pytest.mark.parametrize("words", ["joint=knee,hip", "joint!=shoulder", "class=total"])
def test_a_filter_that_leaves_two_joints_keeps_them_apart(mixed, words):
    report = mixed.risk(parse(words), BY_SEX, [5])
    assert {group.label.split(", ")[0] for group in report.groups} == {"knee", "hip"}
    assert wording.JOINTS_APART in report.head.cautions


def test_joints_that_are_asked_for_stand_where_they_were_put(mixed):
    report = mixed.risk(EVERYTHING, grouping.parse("sex,joint"), [5])
    assert [str(g) for g in report.head.by] == ["sex", "joint"]
    assert wording.JOINTS_APART not in report.head.cautions


def test_comparisons_and_gaps_are_of_one_joint(mixed):
    said = "Knees and hips are not compared with one another: name one, as joint=knee."
    with pytest.raises(FilterError, match=said):
        mixed.compare(parse("class=total"), BY_SEX, adjust=())
    with pytest.raises(FilterError, match=said):
        mixed.gap(parse("class=total"), BY_SEX, 5)
    gap = mixed.gap(parse("class=total joint=hip"), BY_SEX, 5)
    assert {group.label for group in gap.groups} == {"female", "male"}


def test_joints_are_compared_with_one_another_where_they_are_the_groups(mixed):
    report = mixed.compare(parse("class=total"), grouping.parse("joint"), adjust=())
    assert {group.label for group in report.groups} == {"knee", "hip"}


def test_implants_are_compared_within_their_own_joint(mixed, alone):
    report = mixed.implants(EVERYTHING)
    assert wording.JOINTS_APART in report.head.cautions
    for name in JOINTS:
        own = {(row.code, row.role, row.joint_class): row for row in alone[name].implants(EVERYTHING).rows}
        found = {
            (row.code, row.role, row.joint_class.removesuffix(f" {name}")): row
            for row in report.rows
            if row.joint_class.endswith(f" {name}")
        }
        assert found.keys() == own.keys()
        for key, row in found.items():
            assert vars(row) == vars(own[key]) | {"joint_class": f"{key[2]} {name}"}
    assert mixed.implants(parse("joint=hip")).rows == alone["hip"].implants(EVERYTHING).rows


@pytest.mark.parametrize("detail", [False, True])
def test_reasons_are_those_that_the_joint_can_have(mixed, detail):
    report = mixed.reasons(EVERYTHING, (), 10, detail)
    listed = {name: {row.reason for row in report.rows if row.group == name} for name in JOINTS}
    if not detail:
        for name, reasons in listed.items():
            assert reasons <= set(REASON_GROUPS[name])
    assert "bearing dislocation" in listed["knee"]
    assert not listed["hip"] & {"bearing dislocation", "progression of disease", "loosening, tibial"}
    assert all(reasons for reasons in listed.values())


def test_a_reason_that_a_joint_cannot_have_is_withheld_and_is_no_risk_of_0(mixed):
    report = mixed.risk(EVERYTHING, (), [5], reason="progression of disease")
    hips = next(row for row in report.rows if row.group == "hip")
    assert (hips.estimate, hips.withheld) == (None, "progression of disease is no reason for a revision of a hip")
    assert next(row for row in report.rows if row.group == "knee").estimate is not None
    assert {curve.group: curve.days.size > 0 for curve in report.curves} == {name: name == "knee" for name in JOINTS}
    assert all(row.estimate is not None for row in mixed.risk(EVERYTHING, (), [5], reason="infection").rows)


def test_a_cut_of_knees_alone_says_nothing_of_joints(alone):
    report = alone["knee"].risk(EVERYTHING, (), [5])
    assert report.head.by == ()
    assert [group.label for group in report.groups] == ["all"]
    assert wording.JOINTS_APART not in report.head.cautions


def test_knees_are_looked_at_first_and_else_the_largest_joint(mixed, alone, tmp_path):
    assert mixed.first_joint == "knee"
    assert alone["hip"].first_joint is None
    assert desk_of(tmp_path, [hip(), shoulder(), shoulder()]).first_joint == "shoulder"


def test_one_class_name_of_two_joints_is_two_groups(tmp_path: Path) -> None:
    """Of four total knees one is revised, of two total hips one, on one day: 25 % and 50 %, never a third."""
    rows = [joint(days=100, ended="revised", reason="infection"), *(joint(days=900) for _ in range(3))]
    rows += [hip(days=100, ended="revised", reason="dislocation"), hip(days=900), shoulder(days=900)]
    report = desk_of(tmp_path, rows).risk(NOTHING, grouping.parse("class"), [1])
    assert {row.group: row.estimate for row in report.rows} == {
        "knee, total": 0.25,
        "hip, total": 0.5,
        "shoulder, reverse": 0.0,
    }
