"""
A store has one writer, and is not touched by a program of another release.
"""

import getpass
import re
import socket
import subprocess
import sys
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import duckdb
import pytest

from regdash.errors import StoreError
from regdash.intake.receive import receive
from regdash.store.connect import RELEASE, registry_path
from regdash.store.freeze import freeze
from regdash.store.upgrade import UPGRADES_FROM
from tests.intake.small_register import SmallRegister, primary
from tests.intake.test_files import state_of

HOLDER = """
import sys, time
from pathlib import Path
from regdash.store.connect import reading, writing
with writing(Path(sys.argv[1])):
    print("there", flush=True)
    time.sleep(600)
"""

TAKER = """
import sys
from pathlib import Path
from regdash.errors import StoreError
from regdash.intake.receive import receive
try:
    print(receive(Path(sys.argv[1]), [Path(sys.argv[2])]).new_submissions)
except StoreError as refused:
    print(refused)
"""
ROOT = Path(__file__).parents[2]


def start(program: str, store: Path) -> "subprocess.Popen[str]":
    child = subprocess.Popen([sys.executable, "-c", program, str(store)], stdout=subprocess.PIPE, text=True, cwd=ROOT)
    assert child.stdout is not None
    assert child.stdout.readline() == "there\n"
    return child


def end(child: "subprocess.Popen[str]") -> None:
    child.kill()
    child.wait()
    assert child.stdout is not None
    child.stdout.close()


@pytest.fixture
def store(tmp_path) -> Path:
    register = SmallRegister(tmp_path / "in")
    register.units()
    register.operations("2005-01-15", [primary("H001-0000001", 1, "2004-12-01")])
    receive(tmp_path / "store", [tmp_path / "in"])
    return tmp_path / "store"


@pytest.fixture
def holder(store):
    child = start(HOLDER, store)
    yield child
    end(child)


def told_to_the_second(store: Path, ask) -> re.Match[str]:
    with pytest.raises(StoreError) as refused:
        ask()
    told = re.fullmatch(
        r"The store (?P<store>.*) is held by process (?P<process>\d+) \((?P<program>.*)\) of (?P<user>.*) "
        r"on (?P<host>.*) since (?P<since>[0-9-]{10} [0-9:]{8}) UTC\. Wait until it has finished, then try again\.",
        str(refused.value),
    )
    assert told, str(refused.value)
    assert told["store"] == str(store)
    return told


def test_a_second_writer_is_told_who_holds_the_store_and_since_when(store, holder):
    told = told_to_the_second(store, lambda: receive(store, [store.parent / "in"]))
    assert (told["process"], told["user"], told["host"]) == (str(holder.pid), getpass.getuser(), socket.gethostname())
    since = datetime.fromisoformat(told["since"]).replace(tzinfo=UTC)
    assert timedelta(0) <= datetime.now(UTC) - since < timedelta(minutes=5)


def test_a_freeze_while_somebody_writes_is_told_who_holds_the_store(store, holder):
    assert told_to_the_second(store, lambda: freeze(store, date(2004, 12, 31)))["process"] == str(holder.pid)


READER = HOLDER.replace("with writing", "with reading")


def test_a_writer_while_somebody_makes_a_cut_is_told_who_holds_the_store(store):
    child = start(READER, store)
    try:
        told = told_to_the_second(store, lambda: receive(store, [store.parent / "in"]))
        assert told["process"] == str(child.pid)
    finally:
        end(child)


def test_a_holder_who_was_killed_locks_nobody_out_and_its_note_goes(store, holder):
    holder.kill()
    holder.wait()
    assert [path.name for path in store.glob(".held-by-*")] == [f".held-by-{holder.pid}.json"]
    assert receive(store, [store.parent / "in"]).new_submissions == 0
    assert sorted(path.name for path in store.iterdir()) == ["registry.duckdb"]


def test_the_note_of_a_dead_process_is_not_taken_for_the_holder_s(store, holder):
    """The number in the lock is the system's word; a note is believed only of that process."""
    dead = store / ".held-by-1.json"
    dead.write_text((store / f".held-by-{holder.pid}.json").read_text().replace(getpass.getuser(), "somebody-else"))
    told = told_to_the_second(store, lambda: receive(store, [store.parent / "in"]))
    assert told["user"] == getpass.getuser()


def test_a_holder_without_a_note_is_told_by_its_process(store, holder):
    (store / f".held-by-{holder.pid}.json").unlink()
    with pytest.raises(StoreError, match=rf"is held by process {holder.pid}\. Wait until [^\n]*$"):
        receive(store, [store.parent / "in"])


def test_of_many_writers_at_once_each_takes_in_or_is_told_who_holds_the_store(store):
    """Six processes begin together; those that are refused are told, and nothing is taken in twice."""
    register = SmallRegister(store.parent / "more")
    register.operations("2005-04-15", [primary("H001-0000002", 2, "2005-02-01")], sequence=2)
    command = [sys.executable, "-c", TAKER, str(store), str(store.parent / "more")]
    takers = [subprocess.Popen(command, stdout=subprocess.PIPE, text=True, cwd=ROOT) for _ in range(6)]
    said = [taker.communicate()[0].strip() for taker in takers]
    assert said.count("1") == 1
    others = [line for line in said if line != "1"]
    assert all(line == "0" or re.search(r"is held by process \d+", line) for line in others), others
    assert sorted(path.name for path in store.iterdir()) == ["registry.duckdb"]


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
            UPGRADES_FROM - 1,
            rf"layout {UPGRADES_FROM - 1}, of an older release; .* Take all its submissions in again, into a new store",
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
