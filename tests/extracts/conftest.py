"""One store with a small cut for all tests of this folder."""

from pathlib import Path

import pytest

from tests.cuts import Row, make_cut, random_joints


@pytest.fixture(scope="session")
def joints() -> list[Row]:
    """Some thousand joints of all kinds, patients with several of them."""
    return random_joints(2500, joints=("knee", "hip", "shoulder"))


@pytest.fixture(scope="session")
def store(joints: list[Row], tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Their store."""
    return make_cut(tmp_path_factory.mktemp("extracts"), joints)
