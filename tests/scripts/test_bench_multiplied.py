"""A cut of the same lives several times over answers as the one it was made from, from so many times the joints."""

import bench_multiplied
import pytest

from regdash import cohort, grouping
from regdash.reports.desk import Desk
from tests.cuts import make_cut, random_joints

TIMES = 3


@pytest.fixture(scope="module")
def desks(tmp_path_factory: pytest.TempPathFactory) -> tuple[Desk, Desk]:
    folder = tmp_path_factory.mktemp("bench")
    once = make_cut(folder / "once", random_joints(600))
    bench_multiplied.multiplied(once, TIMES, folder / "larger")
    return Desk(once), Desk(folder / "larger")


def test_counts_are_so_many_times_as_large_and_risks_the_same(desks: tuple[Desk, Desk]) -> None:
    once, larger = (desk.risk(cohort.parse([]), grouping.parse("class"), (1, 5)) for desk in desks)
    assert larger.head.joints == TIMES * (once.head.joints or 0)
    assert larger.head.patients == TIMES * (once.head.patients or 0)
    for one, many in zip(once.rows, larger.rows, strict=True):
        assert many.group == one.group
        assert (many.at_risk, many.revisions) == (TIMES * (one.at_risk or 0), TIMES * (one.revisions or 0))
        if one.estimate is not None:
            assert many.estimate == pytest.approx(one.estimate, rel=1e-12)


def test_every_joint_has_a_name_of_its_own_and_the_same_life(desks: tuple[Desk, Desk]) -> None:
    _, larger = desks
    listed = larger.joints(cohort.parse([]), limit=None)
    name = listed.columns.index("joint_id")
    names = {row[name] for row in listed.rows}
    assert len(names) == len(listed.rows) == larger.manifest.joints
    first = next(name for name in names if "." not in name)
    one, other = (larger.joint(name).events for name in (first, f"{first}.{TIMES - 1}"))
    assert one == other
    assert one
