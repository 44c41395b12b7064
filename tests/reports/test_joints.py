"""Lists of joints, one joint's life, and the values that a filter may have."""

from datetime import date
from pathlib import Path

import pytest

from regdash.cohort import parse
from regdash.errors import FilterError
from regdash.fields import FIELDS
from regdash.reports.desk import Desk
from tests.cuts import Row, component, components_of, joint, random_joints
from tests.reports.desks import EVERYTHING, asked, desk_of


@pytest.fixture(scope="module")
def random_rows() -> list[Row]:
    return random_joints(500, seed=31)


@pytest.fixture(scope="module")
def desk(tmp_path_factory: pytest.TempPathFactory, random_rows: list[Row]) -> Desk:
    return desk_of(tmp_path_factory.mktemp("store"), random_rows)


def listed(desk: Desk, words: str) -> tuple[tuple[object, ...], ...]:
    return desk.joints(parse(words, known=desk.known, outcomes=True), limit=None).rows


# ---- the list ----------------------------------------------------------------------------------


def test_a_list_may_be_chosen_by_outcome_and_warns_that_it_is_no_denominator(
    desk: Desk, random_rows: list[Row]
) -> None:
    report = desk.joints(parse("reason=infection ended=revised", outcomes=True))
    assert report.total == sum(row["reason"] == "infection" for row in random_rows)
    assert len(report.rows) == report.total == report.head.joints
    assert "chosen by what happened to them" in report.head.cautions[0]


def test_pages_follow_each_other_without_gap_or_overlap(desk: Desk) -> None:
    """Many joints share a class, so the order within equals must be the same on every page."""
    whole = desk.joints(EVERYTHING, limit=None, order="-class").rows
    pages = [desk.joints(EVERYTHING, offset, 70, "-class").rows for offset in range(0, 500, 70)]
    assert tuple(row for page in pages for row in page) == whole
    assert len({row[0] for row in whole}) == 500


def test_any_column_orders_the_list_both_ways(desk: Desk) -> None:
    columns = desk.joints(EVERYTHING, limit=1).columns
    for place, column in enumerate(columns):
        rising = [row[place] for row in desk.joints(EVERYTHING, limit=None, order=column).rows]
        falling = [row[place] for row in desk.joints(EVERYTHING, limit=None, order=f"-{column}").rows]
        there = [value for value in rising if value is not None]
        assert there == sorted(there)
        assert [value for value in falling if value is not None] == sorted(there, reverse=True)
        assert rising[len(there) :] == falling[len(there) :] == [None] * (500 - len(there))


def test_a_column_that_is_not_there_cannot_order(desk: Desk) -> None:
    with pytest.raises(FilterError, match=r"Joints have no column agee to be ordered by\. Nearest: age"):
        desk.joints(EVERYTHING, order="agee")
    with pytest.raises(FilterError, match="Rows are counted from 0 up; -1 is below"):
        desk.joints(EVERYTHING, offset=-1)


# ---- one joint ---------------------------------------------------------------------------------


def test_a_joints_life_is_told_in_order(tmp_path: Path) -> None:
    lines = [
        *components_of("UF-001/UT-001", out_day=400),
        component("bearing insert", "UI-001", out_day=400, lot=""),
        component("femoral", "KF-002", in_day=400, operation_id="H001-8000000"),
        component("femoral", "KF-003", in_day=800, operation_id="H001-8000002"),
    ]
    life = joint(
        class_="partial",
        compartment="medial",
        constraint_design="not applicable",
        construct="UF-001/UT-001",
        days=400,
        ended="revised",
        reason="progression of disease",
        action="partial to total",
        stem_used=True,
        died_day=900,
        components=lines,
        episodes=[
            {"also": ["pain, unexplained", "wear, osteolysis"]},
            {"day": 700, "stage": "first of two", "reason": "infection", "operation_id": "H001-8000001"},
        ],
    )
    desk = desk_of(tmp_path, [life], held=[(0, "side-missing")])
    report = desk.joint("p000000000-kl")
    assert report.joint_id == "P000000000-KL"
    told = [(event.day, event.date, event.what) for event in report.events]
    assert told == [
        (0, "2010-01-04", "primary partial knee, left"),
        (400, "2011-02-08", "revision 1"),
        (700, "2011-12-05", "revision 2, first of two stages"),
        (800, "2012-03-14", "second stage of the revision before"),
        (900, "2012-06-22", "patient died"),
        (900, "2012-06-22", "revisions held back, not counted"),
    ]
    first = report.events[1].details
    assert first[:4] == (
        "reason: progression of disease",
        "action: partial to total",
        "used: stem",
        "also: pain, unexplained; wear, osteolysis",
    )
    assert "out: bearing insert UI-001 (UI001-5, size 5)" in first
    assert [detail for detail in first if detail.startswith("in: ")] == [
        "in: femoral KF-002 (KF002-5, size 5, lot L001)"
    ]
    assert report.head.held_revisions == 1


def test_a_joint_that_lasts_is_last_known_in_place(tmp_path: Path) -> None:
    report = desk_of(tmp_path, [joint(days=1461)]).joint("P000000000-KL")
    assert report.events[-1].what == "in place, last known"
    assert report.events[-1].details == ("followed 4.0 years",)


def test_a_joint_is_told_without_a_date_of_birth(desk: Desk) -> None:
    facts = dict(desk.joint(str(desk.joints(EVERYTHING, limit=1).rows[0][0])).facts)
    assert "age at the primary" in facts
    assert not any("birth" in name for name in facts)


def test_an_unknown_joint_is_refused(desk: Desk) -> None:
    with pytest.raises(FilterError, match=r"There is no joint P1-KL in data cut 2024-12-31\.1"):
        desk.joint("P1-KL")


# ---- values ------------------------------------------------------------------------------------


@pytest.mark.parametrize("key", sorted(FIELDS))
def test_each_value_of_a_field_chooses_as_many_joints_as_it_says(desk: Desk, key: str) -> None:
    """What completion offers must read as a filter, and keep its word."""
    found = desk.values(key, EVERYTHING)
    assert found
    for value, joints in list(found.items())[:12]:
        assert len(listed(desk, f"{key}={value}")) == joints


def test_values_leave_the_field_itself_aside_and_heed_the_rest(desk: Desk) -> None:
    within = asked(desk, "class=partial sex=female")
    assert set(desk.values("class", within)) == {"total", "partial"}
    assert desk.values("class", within)["partial"] == len(listed(desk, "class=partial sex=female"))


def test_a_value_with_spaces_is_offered_as_it_is_written(tmp_path: Path) -> None:
    lines = components_of("KF-001/KT-001", lot="L 12")
    desk = desk_of(tmp_path, [joint(components=lines), joint(implanted_date=date(2012, 1, 1))])
    assert desk.values("lot", EVERYTHING) == {"L 12": 1, "L001": 1}


def test_an_unknown_field_has_no_values(desk: Desk) -> None:
    with pytest.raises(FilterError, match="There is no filter word clas"):
        desk.values("clas", EVERYTHING)
