"""
A store has one writer, and is not touched by a program of another release.
"""

import subprocess
import sys
from datetime import date
from pathlib import Path

import duckdb
import pytest

from regdash.errors import StoreError
from regdash.intake.receive import receive
from regdash.store.connect import RELEASE, registry_path
from regdash.store.freeze import freeze
from tests.intake.small_register import SmallRegister, primary
from tests.intake.test_files import state_of

HOLDER = """
import sys, time
from pathlib import Path
from regdash.store.connect import writing
with writing(Path(sys.argv[1])):
    print("there", flush=True)
    time.sleep(600)
"""


@pytest.fixture
def store(tmp_path) -> Path:
    register = SmallRegister(tmp_path / "in")
    register.units()
    register.operations("2005-01-15", [primary("H001-0000001", 1, "2004-12-01")])
    receive(tmp_path / "store", [tmp_path / "in"])
    return tmp_path / "store"


@pytest.fixture
def holder(store):
    child = subprocess.Popen(
        [sys.executable, "-c", HOLDER, str(store)], stdout=subprocess.PIPE, text=True, cwd=Path(__file__).parents[2]
    )
    assert child.stdout is not None
    assert child.stdout.readline() == "there\n"
    yield child
    child.kill()
    child.wait()
    child.stdout.close()


def test_a_second_writer_is_told_who_holds_the_store(store, holder):
    with pytest.raises(StoreError, match=rf"^The store .* is held by process {holder.pid}\. Wait until [^\n]*$"):
        receive(store, [store.parent / "in"])


def test_a_freeze_while_somebody_writes_is_told_who_holds_the_store(store, holder):
    with pytest.raises(StoreError, match=rf"is held by process {holder.pid}\."):
        freeze(store, date(2004, 12, 31))


def pretend_release(store: Path, release: int) -> None:
    with duckdb.connect(str(registry_path(store))) as connection:
        connection.execute("update store_facts set value = ? where fact = 'release'", [str(release)])


@pytest.mark.parametrize(
    ("release", "said"),
    [
        (
            RELEASE + 1,
            rf"layout {RELEASE + 1}, of a newer release; .* reads layout {RELEASE}\. Update the program",
        ),
        (
            RELEASE - 1,
            rf"layout {RELEASE - 1}, of an older release; .* Take the submissions in again",
        ),
    ],
)
def test_a_store_of_another_release_is_refused_in_one_line_and_untouched(store, release, said):
    pretend_release(store, release)
    before = state_of(store)
    for ask in (lambda: receive(store, [store.parent / "in"]), lambda: freeze(store, date(2004, 12, 31))):
        with pytest.raises(StoreError, match=said) as refused:
            ask()
        assert "\n" not in str(refused.value)
    assert state_of(store) == before


def test_a_database_of_something_else_is_refused(tmp_path):
    (tmp_path / "store").mkdir()
    with duckdb.connect(str(registry_path(tmp_path / "store"))) as connection:
        connection.execute("create table birds (name varchar)")
    SmallRegister(tmp_path / "in").units()
    with pytest.raises(StoreError, match="is a database, but not a store of this program"):
        receive(tmp_path / "store", [tmp_path / "in"])


def test_a_file_that_is_no_database_is_refused_and_kept(tmp_path):
    (tmp_path / "store").mkdir()
    registry_path(tmp_path / "store").write_text("a letter to the hospital, long enough to be read as a header " * 200)
    before = state_of(tmp_path / "store")
    SmallRegister(tmp_path / "in").units()
    with pytest.raises(StoreError, match=r"cannot be opened: [^\n]*$"):
        receive(tmp_path / "store", [tmp_path / "in"])
    assert state_of(tmp_path / "store") == before


def test_a_cut_of_a_store_that_is_not_there_is_refused(tmp_path):
    with pytest.raises(StoreError, match=r"There is no store in .*regdash receive PATH"):
        freeze(tmp_path / "nowhere", date(2004, 12, 31))
    assert not (tmp_path / "nowhere").exists()


def test_a_first_receive_that_fails_leaves_no_store(tmp_path):
    SmallRegister(tmp_path / "in").units()

    def fail(what: str, done: int, total: int) -> None:
        if what == "checking and linking":
            raise ZeroDivisionError("a bug")

    with pytest.raises(ZeroDivisionError):
        receive(tmp_path / "deep" / "store", [tmp_path / "in"], fail)
    assert not (tmp_path / "deep").exists()
