"""Who the joints are: by hand, group by group."""

from datetime import date
from pathlib import Path

import pytest

from regdash import grouping
from tests.cuts import joint, random_joints
from tests.reports.desks import EVERYTHING, desk_of


def test_a_description_by_hand(tmp_path: Path) -> None:
    rows = [
        joint(patient=0, age=60, sex="female", implanted_date=date(2010, 3, 1), days=100, ended="died"),
        joint(patient=0, age=62, sex="female", implanted_date=date(2012, 3, 1), days=200, side="right"),
        joint(patient=1, age=70, sex="male", implanted_date=date(2009, 5, 5), days=400, hospital_id="H002"),
        joint(patient=2, age=81, sex="not recorded", surgeon_id="not recorded", days=800, ended="lost"),
        joint(patient=3, class_="partial", days=50, ended="revised", reason="pain, unexplained"),
    ]
    total, partial = desk_of(tmp_path, rows).describe(EVERYTHING, grouping.parse("class")).rows
    assert (total.group, total.joints, total.patients, total.hospitals, total.surgeons) == ("total", 4, 3, 2, 1)
    assert (total.first_date, total.last_date) == ("2009-05-05", "2012-03-01")
    assert total.mean_age == pytest.approx(273 / 4)
    assert total.female == pytest.approx(2 / 3)
    assert total.median_follow_up == pytest.approx(300 / 365.25)
    assert (total.revised, total.died, total.lost) == (0, 1, 1)
    assert (partial.joints, partial.revised) == (1, 1)


def test_the_share_of_women_is_empty_where_no_sex_is_recorded(tmp_path: Path) -> None:
    (row,) = desk_of(tmp_path, [joint(sex="not recorded")]).describe(EVERYTHING).rows
    assert row.female is None


def test_each_description_stands_beside_its_own_group(tmp_path: Path) -> None:
    joints = random_joints(500, seed=9)
    report = desk_of(tmp_path, joints).describe(EVERYTHING, grouping.parse("age,sex"))
    assert [row.group for row in report.rows] == [group.label for group in report.groups]
    for row in report.rows:
        if row.group.startswith("60–69"):
            assert 60 <= row.mean_age < 70
        if row.group.endswith(", male"):
            assert row.female == 0
    assert sum(row.joints for row in report.rows) == 500
