"""A store with one small cut, for the tests of the command line."""

from datetime import date
from pathlib import Path

import pytest

from tests.cuts import joint, make_cut, random_joints

REVISED = "P000000000-KL"  # the first joint of the cut


@pytest.fixture(scope="session")
def store(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Some thousand joints drawn at random, one of them known to the tests, and two held revisions."""
    known = joint(implanted_date=date(2012, 3, 5), days=400, ended="revised", reason="infection", hospital_id="H009")
    folder = tmp_path_factory.mktemp("store")
    return make_cut(folder, [known, *random_joints(3000)], held=[(5, "side-missing"), (None, "primary-unknown")])


@pytest.fixture(autouse=True)
def own_home(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Path:
    """Keep the tests away from whatever store the machine has."""
    monkeypatch.delenv("REGDASH_STORE", raising=False)
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    monkeypatch.setenv("HOME", str(tmp_path / "home"))
    return tmp_path
