"""Backup, restore and a key, as an office types them."""

import json
import shutil

import pytest

from tests.cli.asking import one_line, regdash
from tests.intake.small_register import SmallRegister, primary
from tests.intake.test_files import state_of


@pytest.fixture
def store(tmp_path):
    register = SmallRegister(tmp_path / "in")
    register.units()
    register.operations("2005-01-15", [primary("H001-0000001", 1, "2004-12-01")])
    assert regdash("receive", tmp_path / "in", store=tmp_path / "store").code == 0
    assert regdash("freeze", "--through", "2004-12-31", store=tmp_path / "store").code == 0
    return tmp_path / "store"


def test_a_store_is_backed_up_lost_and_restored(store, tmp_path):
    before = state_of(store)
    said = regdash("backup", tmp_path / "backup", store=store)
    assert (said.code, said.stdout) == (0, "")
    # The store, its cut with the manifest, and the office's file with the heads of its trail.
    assert said.stderr.startswith("5 files (")
    assert said.stderr.endswith(f" of {store} copied to {tmp_path / 'backup'}.\n")
    shutil.rmtree(store)
    said = regdash("restore", tmp_path / "backup", store=store)
    assert said.code == 0
    made = json.loads((tmp_path / "backup" / "backup.json").read_text())["made"]
    assert said.stderr.endswith(f" of {made} restored to {store}.\n")
    # Copying and restoring are themselves written down in the office's trail; all else is as it was.
    after = state_of(store)
    assert {name for name in before if after[name] != before[name]} == {"office.sqlite", "office.heads"}
    assert after.keys() == before.keys()
    assert regdash("audit", "--verify", store=store).code == 0
    assert regdash("cuts", "--json", store=store).json["rows"][0]["cut"] == "2004-12-31.1"


def test_what_cannot_be_done_is_refused_in_one_line_with_1(store, tmp_path):
    assert regdash("backup", tmp_path / "backup", store=store).code == 0
    refused = [
        (regdash("backup", tmp_path / "backup", store=store), "is there already. A backup is never written over"),
        (regdash("backup", store / "inside", store=store), "would stand inside the store"),
        (regdash("backup", tmp_path / "other", store=tmp_path / "nowhere"), "There is no store in"),
        (regdash("restore", tmp_path / "backup", store=store), "is there already. A backup is never put over a store"),
        (regdash("restore", tmp_path / "in", store=tmp_path / "new"), "There is no backup in"),
    ]
    for said, told in refused:
        assert said.code == 1
        assert told in one_line(said)


def test_a_key_is_made_once_and_not_shown(tmp_path):
    said = regdash("new-key", tmp_path / "register.key")
    assert (said.code, said.stdout) == (0, "")
    assert (tmp_path / "register.key").stat().st_mode & 0o777 == 0o600
    key = (tmp_path / "register.key").read_text().strip()
    assert key not in said.stderr
    again = regdash("new-key", tmp_path / "register.key")
    assert again.code == 1
    assert "a key is never written over" in one_line(again)


def test_a_key_that_others_may_read_stops_a_receive_before_it_begins(store, tmp_path):
    assert regdash("new-key", tmp_path / "register.key").code == 0
    (tmp_path / "register.key").chmod(0o644)
    before = state_of(store)
    said = regdash("receive", tmp_path / "in", "--key", tmp_path / "register.key", store=store)
    assert said.code == 1
    assert "may be read or changed by others (mode 644)" in one_line(said)
    assert state_of(store) == before
