"""
A backup is the whole store of one moment, and what is put back is that store; neither is written over anything.
"""

import json
import os
import shutil
import sqlite3
import subprocess
import sys
from contextlib import closing
from datetime import date
from pathlib import Path

import pytest

from regdash.errors import StoreError
from regdash.intake.receive import receive
from regdash.store.backup import MANIFEST, back_up, restore
from regdash.store.cuts import list_cuts
from regdash.store.freeze import freeze
from tests.intake.small_register import SmallRegister, primary
from tests.intake.test_crash import everything_in
from tests.intake.test_files import state_of
from tests.store.test_connect import HOLDER, end, start

THROUGH = date(2004, 12, 31)


@pytest.fixture(scope="module")
def frozen(tmp_path_factory) -> Path:
    """A store with a cut, settings and an office file."""
    folder = tmp_path_factory.mktemp("frozen")
    register = SmallRegister(folder / "in")
    register.units()
    register.operations("2005-01-15", [primary("H001-0000001", 1, "2004-12-01")])
    store = folder / "store"
    receive(store, [folder / "in"])
    freeze(store, THROUGH)
    (store / "settings.toml").write_text("small_numbers = 5\n")
    with closing(sqlite3.connect(store / "office.sqlite")) as office:
        office.execute("create table reviews (code text)")
        office.execute("insert into reviews values ('KF-017')")
        office.commit()
    return store


@pytest.fixture
def store(frozen, tmp_path) -> Path:
    shutil.copytree(frozen, tmp_path / "store")
    return tmp_path / "store"


def test_what_is_restored_is_the_store_that_was_backed_up(store, tmp_path):
    before, content = state_of(store), everything_in(store)
    made = back_up(store, tmp_path / "backup")
    assert state_of(store) == before
    named = {"registry.duckdb", "settings.toml", "office.sqlite", f"cuts/{THROUGH}.1.duckdb", f"cuts/{THROUGH}.1.json"}
    assert set(made.files) == named
    shutil.rmtree(store)
    assert restore(tmp_path / "backup", store) == made
    unchanged = named - {"office.sqlite"}  # SQLite's own copy may differ in its header, not in what it says
    assert {name: state_of(store)[name] for name in unchanged} == {name: before[name] for name in unchanged}
    assert everything_in(store) == content
    with closing(sqlite3.connect(store / "office.sqlite")) as office:
        assert office.execute("select code from reviews").fetchall() == [("KF-017",)]
    assert [cut.cut for cut in list_cuts(store)] == ["2004-12-31.1"]
    assert freeze(store, THROUGH).content_hash == list_cuts(store)[0].content_hash


def test_a_restored_store_can_be_written_on(store, tmp_path):
    back_up(store, tmp_path / "backup")
    restore(tmp_path / "backup", tmp_path / "again")
    more = SmallRegister(tmp_path / "more").operations(
        "2005-04-15", [primary("H001-0000002", 2, "2005-02-01")], sequence=2
    )
    assert receive(tmp_path / "again", [more]).new_submissions == 1


def test_what_an_office_notes_while_it_is_copied_is_whole_in_the_copy(store, tmp_path):
    """In write-ahead mode what was last noted stands beside the file; the copy holds it all the same."""
    with closing(sqlite3.connect(store / "office.sqlite")) as office:
        office.execute("pragma journal_mode = wal")
        office.execute("insert into reviews values ('KT-002')")
        office.commit()
        assert (store / "office.sqlite-wal").stat().st_size > 0
        made = back_up(store, tmp_path / "backup")
    assert not [name for name in made.files if "-wal" in name or "-shm" in name]
    with closing(sqlite3.connect(tmp_path / "backup" / "office.sqlite")) as copy:
        assert copy.execute("select code from reviews order by code").fetchall() == [("KF-017",), ("KT-002",)]


def test_what_is_being_made_is_no_part_of_a_backup(store, tmp_path):
    (store / "cuts" / ".making-1").mkdir()
    (store / "cuts" / ".making-1" / "cut.duckdb").write_text("half")
    (store / "cuts" / "2005-01-01.1.duckdb").touch()  # the name of a cut that is not finished
    (store / ".spill-1").mkdir()
    (store / ".spill-1" / "spilled").write_text("rows")
    names = set(back_up(store, tmp_path / "backup").files)
    assert not [name for name in names if ".making" in name or "spill" in name or "2005-01-01" in name]


@pytest.mark.parametrize("there", ["a backup", "a file", "a link to nowhere"])
def test_a_backup_is_never_written_over_anything(there, store, tmp_path):
    target = tmp_path / "backup"
    if there == "a backup":
        back_up(store, target)
    elif there == "a file":
        target.write_text("letters")
    else:
        target.symlink_to(tmp_path / "nowhere")
    before = state_of(tmp_path)
    with pytest.raises(
        StoreError, match=r"backup is there already\. A backup is never written over; name a new folder"
    ):
        back_up(store, target)
    assert state_of(tmp_path) == before


def test_a_backup_inside_the_store_is_refused(store):
    with pytest.raises(StoreError, match="would stand inside the store"):
        back_up(store, store / "backup")
    assert not (store / "backup").exists()


def test_a_backup_of_no_store_is_refused(tmp_path):
    with pytest.raises(StoreError, match="There is no store in"):
        back_up(tmp_path / "nowhere", tmp_path / "backup")
    assert list(tmp_path.iterdir()) == []


def test_a_backup_while_somebody_writes_is_told_who_holds_the_store(store, tmp_path):
    child = start(HOLDER, store)
    try:
        with pytest.raises(StoreError, match=rf"is held by process {child.pid} .* since "):
            back_up(store, tmp_path / "backup")
    finally:
        end(child)
    assert not (tmp_path / "backup").exists()


def test_a_backup_is_never_put_over_a_store(store, tmp_path):
    back_up(store, tmp_path / "backup")
    before = state_of(store)
    with pytest.raises(StoreError, match=r"store is there already\. A backup is never put over a store"):
        restore(tmp_path / "backup", store)
    assert state_of(store) == before


def flip(path: Path) -> None:
    content = bytearray(path.read_bytes())
    content[len(content) // 2] ^= 1
    path.write_bytes(content)


SPOILED = {
    "one bit of the store": (lambda b: flip(b / "registry.duckdb"), "registry.duckdb is not as it was when"),
    "a cut cut short": (
        lambda b: os.truncate(b / "cuts" / "2004-12-31.1.duckdb", 1000),
        "2004-12-31.1.duckdb is not as it was when",
    ),
    "a missing file": (lambda b: (b / "settings.toml").unlink(), "settings.toml of the backup cannot be read: No such"),
    "no manifest": (lambda b: (b / MANIFEST).unlink(), "There is no backup in"),
    "a manifest cut short": (lambda b: os.truncate(b / MANIFEST, 100), "is not the manifest of a backup"),
    "a manifest that leads elsewhere": (
        lambda b: (b / MANIFEST).write_text((b / MANIFEST).read_text().replace("settings.toml", "../settings.toml")),
        "it names ../settings.toml",
    ),
    "a manifest of another form": (
        lambda b: (b / MANIFEST).write_text((b / MANIFEST).read_text().replace('"form": 1', '"form": 9')),
        "of another release of the program (form 9)",
    ),
}


@pytest.mark.parametrize("fault", SPOILED)
def test_a_spoiled_backup_is_refused_in_one_line_and_nothing_is_restored(fault, store, tmp_path):
    back_up(store, tmp_path / "backup")
    spoil, said = SPOILED[fault]
    spoil(tmp_path / "backup")
    with pytest.raises(StoreError) as refused:
        restore(tmp_path / "backup", tmp_path / "again")
    assert said in str(refused.value)
    assert "\n" not in str(refused.value)
    assert not (tmp_path / "again").exists()
    assert [path.name for path in tmp_path.glob(".again*")] == []


def test_the_manifest_says_what_hash_each_file_has(store, tmp_path):
    back_up(store, tmp_path / "backup")
    said = json.loads((tmp_path / "backup" / MANIFEST).read_text())
    hashes = state_of(tmp_path / "backup")
    del hashes[MANIFEST]
    assert {name: file["sha256"] for name, file in said["files"].items()} == hashes


FULL = """
import resource, sys
from pathlib import Path
from regdash.errors import StoreError
from regdash.store.backup import back_up
resource.setrlimit(resource.RLIMIT_FSIZE, (100_000, 100_000))
try:
    back_up(Path(sys.argv[1]), Path(sys.argv[2]))
except StoreError as refused:
    print(refused)
"""


def test_a_backup_that_finds_no_room_leaves_nothing(store, tmp_path):
    """A limit on the size of files is what a full disk looks like, without a disk of our own."""
    before = state_of(store)
    command = [sys.executable, "-c", FULL, str(store), str(tmp_path / "backup")]
    said = subprocess.run(command, capture_output=True, text=True, cwd=Path(__file__).parents[2], check=False)
    assert said.stdout == f"{tmp_path / 'backup'} cannot be written: File too large.\n", said.stderr
    assert state_of(store) == before
    assert sorted(path.name for path in tmp_path.iterdir()) == ["store"]
