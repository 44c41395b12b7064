"""Views never mix joints: of a cut of knees, hips and shoulders each tells of one joint what it tells of it alone."""

import math
from pathlib import Path
from typing import Any

import pytest

from regdash.store.cuts import Cut
from regdash.store.sqlfiles import SqlFile, views_in_order
from regdash.vocabulary import JOINTS
from tests.cuts import make_cut, random_joints

ROWS = random_joints(900, seed=43, joints=JOINTS)
OF_ONE_CUT = {"joint_no", "joint_id"}  # numbers that another cut may give to another joint


@pytest.fixture(scope="module")
def mixed(tmp_path_factory: pytest.TempPathFactory) -> Cut:
    return Cut(make_cut(tmp_path_factory.mktemp("mixed"), ROWS))


@pytest.fixture(scope="module")
def alone(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Cut]:
    def cut(name: str) -> Path:
        return make_cut(tmp_path_factory.mktemp(name), [row for row in ROWS if row["joint"] == name])

    return {name: Cut(cut(name)) for name in JOINTS}


def alike(one: Any, other: Any) -> bool:
    """Whether two cells say the same, but for rounding in sums that the database takes in any order."""
    return math.isclose(one, other, rel_tol=1e-10) if isinstance(one, float) else one == other


@pytest.mark.parametrize("joint", JOINTS)
@pytest.mark.parametrize("view", views_in_order(), ids=lambda view: view.name)
def test_a_view_tells_of_a_joint_what_it_tells_of_it_alone(mixed, alone, view: SqlFile, joint: str):
    columns = [name for name, _ in view.columns if name not in OF_ONE_CUT]
    rows = f"select {', '.join(columns)} from {view.name} where joint = '{joint}' order by all"
    found, expected = mixed.rows(rows), alone[joint].rows(rows)
    assert len(found) == len(expected) > 3
    for row, own in zip(found, expected):
        assert all(alike(one, other) for one, other in zip(row, own, strict=True)), (row, own)
