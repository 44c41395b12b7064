"""
A store of an older layout is upgraded by whoever takes something in, with a copy kept; nothing submitted is lost.
"""

import shutil
from datetime import date
from pathlib import Path

import duckdb
import pytest

from regdash.errors import StoreError
from regdash.intake.receive import receive
from regdash.store.connect import RELEASE, registry_path
from regdash.store.freeze import freeze
from regdash.store.upgrade import UPGRADES_FROM, copy_path, tables_made
from tests.intake.small_register import SmallRegister, primary, revision
from tests.intake.test_files import state_of

# Tables that came with each layout since the first that can be upgraded.
CAME_WITH = {
    5: ("record_findings", "operation_versions", "implants_of_primaries", "revision_facts", "settled_state"),
}
THROUGH = date(2005, 12, 31)


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A store as the first such layout had it, what was sent to it, and a submission that is still to come."""
    folder = tmp_path_factory.mktemp("old")
    register = SmallRegister(folder / "in")
    register.catalogue()
    register.units()
    rows = [primary("H001-0000001", 1, "2004-12-01"), primary("H001-0000002", 2, "2004-12-02", side="")]
    register.operations("2005-01-15", rows)
    receive(folder / "store", [folder / "in"])
    assert set(CAME_WITH) == set(range(UPGRADES_FROM + 1, RELEASE + 1))
    with duckdb.connect(str(registry_path(folder / "store"))) as connection:
        for table in (name for names in CAME_WITH.values() for name in names):
            connection.execute(f"drop table {table}")
        connection.execute("update store_facts set value = ? where fact = 'release'", [str(UPGRADES_FROM)])
    later = SmallRegister(folder / "later")
    later.sequences = dict(register.sequences)
    later.operations("2006-02-15", [revision("H001-0000003", 1, "2005-06-01")])
    return folder


@pytest.fixture
def old(made: Path, tmp_path: Path) -> Path:
    """A copy that a test may write to."""
    return Path(shutil.copytree(made / "store", tmp_path / "store"))


def test_who_only_reads_is_told_what_upgrades_it_and_changes_nothing(old):
    before = state_of(old)
    with pytest.raises(StoreError, match=r"layout 4, of an older release; .*\. Any receive upgrades it") as refused:
        freeze(old, THROUGH)
    assert "\n" not in str(refused.value)
    assert state_of(old) == before


def test_an_upgraded_store_makes_the_cut_that_one_made_anew_would(old, made, tmp_path):
    receive(old, [made / "later"])
    receive(tmp_path / "new", [made / "in", made / "later"])
    upgraded, new = freeze(old, THROUGH), freeze(tmp_path / "new", THROUGH)
    assert (upgraded.content_hash, upgraded.joints, upgraded.revisions) == (new.content_hash, 1, 1)
    copy = copy_path(registry_path(old), UPGRADES_FROM)
    with duckdb.connect(str(copy), read_only=True) as connection:
        assert connection.execute("select value from store_facts where fact = 'release'").fetchall() == [("4",)]
        assert connection.execute("select count(*) from operations").fetchall() == [(2,)]
    with duckdb.connect(str(registry_path(old)), read_only=True) as connection:
        there = {name for (name,) in connection.execute("select table_name from duckdb_tables()").fetchall()}
    assert there == set(tables_made())


def test_a_submission_that_it_has_upgrades_it_too(old, made):
    assert receive(old, [made / "in"]).new_submissions == 0
    with duckdb.connect(str(registry_path(old)), read_only=True) as connection:
        assert connection.execute("select value from store_facts where fact = 'release'").fetchall() == [
            (str(RELEASE),)
        ]


def test_a_receive_that_fails_leaves_the_old_store_and_no_copy(old, made):
    before = state_of(old)

    def fail(what: str, done: int, total: int) -> None:
        if what == "checking and linking":
            raise ZeroDivisionError("a bug")

    with pytest.raises(ZeroDivisionError):
        receive(old, [made / "later"], fail)
    assert sorted(path.name for path in old.iterdir()) == ["registry.duckdb"]
    with pytest.raises(StoreError, match="of an older release"):
        freeze(old, THROUGH)
    assert set(state_of(old)) == set(before)
