"""
A receive that is killed leaves the store as it was; so does one that fails.
"""

import errno
import random
import shutil
import signal
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import duckdb
import pytest

from regdash.errors import StoreError
from regdash.intake.receive import receive
from tests.intake.small_register import SmallRegister, primary
from tests.killing import kill_at_some_moment, kill_once, run_to_the_end

# The child's own progress report is where it stops: the product knows nothing of this.
CHILD = """
import sys, time
from pathlib import Path
from regdash.intake.receive import receive

def stop(what, done, total):
    if what == sys.argv[3] and done == total:
        print("there", flush=True)
        time.sleep(600)

receive(Path(sys.argv[1]), [Path(sys.argv[2])], stop)
"""


def everything_in(store: Path) -> dict[str, list[Any]]:
    with duckdb.connect(str(store / "registry.duckdb"), read_only=True) as connection:
        tables = [name for (name,) in connection.execute("select table_name from duckdb_tables()").fetchall()]
        return {table: sorted(map(repr, connection.execute(f"from {table}").fetchall())) for table in tables}


def kill_in_the_middle(store: Path, submissions: Path, stage: str) -> None:
    command = [sys.executable, "-c", CHILD, str(store), str(submissions), stage]
    child = subprocess.Popen(command, stdout=subprocess.PIPE, text=True, cwd=Path(__file__).parents[2])
    assert child.stdout is not None
    assert child.stdout.readline() == "there\n"
    child.send_signal(signal.SIGKILL)
    assert child.wait() == -signal.SIGKILL
    child.stdout.close()


@dataclass(frozen=True)
class Taken:
    """Submissions, the first of which a store has taken in, and what it holds with the second and without."""

    first: Path
    second: Path
    store: Path  # is not written to
    whole: Path
    before: dict[str, list[Any]]
    after: dict[str, list[Any]]

    def begun(self, tmp_path: Path) -> Path:
        """Copy the store that has taken in the first."""
        shutil.copytree(self.store, tmp_path / "store")
        return tmp_path / "store"


@pytest.fixture(scope="module")
def taken(tmp_path_factory: pytest.TempPathFactory) -> Taken:
    folder = tmp_path_factory.mktemp("crash")
    first, second, store, whole = (folder / name for name in ("first", "second", "store", "whole"))
    register = SmallRegister(first)
    register.catalogue()
    register.units()
    register.operations("2005-01-15", [primary("H001-0000001", 1, "2004-12-01")])
    register.folder = second
    rows = [primary(f"H001-{n:07d}", n, "2005-02-01") for n in range(2, 3000)]
    register.operations("2005-04-15", rows)
    receive(store, [first])
    shutil.copytree(store, whole)
    assert receive(whole, [second]).total("accepted") == 2998 * 4
    made = Taken(first, second, store, whole, everything_in(store), everything_in(whole))
    assert made.before != made.after
    return made


def assert_it_is_complete(store: Path, taken: Taken) -> None:
    assert everything_in(store) == taken.after
    assert sorted(path.name for path in store.iterdir()) == ["registry.duckdb"]


@pytest.mark.parametrize("stage", ["checking files", "taking in rows", "checking and linking"])
def test_a_receive_killed_in_the_middle_leaves_the_store_as_it_was(stage, taken, tmp_path):
    store = taken.begun(tmp_path)
    kill_in_the_middle(store, taken.second, stage)
    assert everything_in(store) == taken.before


@pytest.mark.slow  # a process is killed
def test_a_receive_after_one_that_was_killed_takes_all_in(taken, tmp_path):
    store = taken.begun(tmp_path)
    kill_in_the_middle(store, taken.second, "checking and linking")
    receive(store, [taken.second])
    assert_it_is_complete(store, taken)


@pytest.mark.slow  # a process is killed
def test_the_first_receive_killed_in_the_middle_leaves_a_store_that_can_be_begun_again(taken, tmp_path):
    store = tmp_path / "store"
    kill_in_the_middle(store, taken.first, "taking in rows")
    assert receive(store, [taken.first]).new_submissions == 3


def test_a_receive_that_fails_leaves_the_store_as_it_was(taken, tmp_path):
    store = taken.begun(tmp_path)

    def fail(what: str, done: int, total: int) -> None:
        if what == "checking and linking":
            raise OSError(errno.ENOSPC, "No space left on device")

    with pytest.raises(StoreError, match=r"store cannot be written: No space left on device\.$"):
        receive(store, [taken.second], fail)
    assert everything_in(store) == taken.before
    assert sorted(path.name for path in store.iterdir()) == ["registry.duckdb"]


# ---- killed at any moment

# Patients of whom nothing new came are left as they are, though they are few here.
WHOLE = """
import sys
from pathlib import Path
from regdash.intake.receive import receive
from regdash.store import carried
carried.MOST_IN_SCOPE = 1000
print("begun", flush=True)
receive(Path(sys.argv[1]), [Path(sys.argv[2])])
"""


def assert_any_moment_will_do(taken: Taken, tmp_path: Path, moments: int, seed: int) -> None:
    """
    Kill a receive again and again, on what the last one left; each leaves the store as before or complete.

    Every other is killed while the log of the database is being written, which is where a store could be lost.
    """
    rng = random.Random(seed)
    store = taken.begun(tmp_path)
    seconds = run_to_the_end(WHOLE, store, taken.second)
    assert everything_in(store) == taken.after
    log, at_work, is_complete = store / "registry.duckdb.wal", 0, True
    for n in range(moments):
        if is_complete:
            shutil.rmtree(store)
            taken.begun(tmp_path)
        if n % 2:
            moment = rng.uniform(0, 0.05)
            at_work += kill_once(log.exists, moment, WHOLE, store, taken.second)
        else:
            at_work += kill_at_some_moment(rng, seconds, WHOLE, store, taken.second)
        found = everything_in(store)
        assert found in (taken.before, taken.after)
        is_complete = found == taken.after
    assert at_work > 0
    receive(store, [taken.second])
    assert_it_is_complete(store, taken)


@pytest.mark.slow  # a store a moment; three set moments are tried beside it
def test_a_receive_killed_at_any_moment_leaves_the_store_as_it_was_or_complete(taken, tmp_path):
    assert_any_moment_will_do(taken, tmp_path, moments=5, seed=4)


@pytest.mark.slow
def test_a_receive_killed_at_a_hundred_moments_leaves_the_store_as_it_was_or_complete(taken, tmp_path):
    assert_any_moment_will_do(taken, tmp_path, moments=100, seed=5)


@pytest.mark.slow  # many kills; those of a later receive stay
def test_a_first_receive_killed_at_any_moment_can_be_begun_again(taken, tmp_path):
    rng = random.Random(6)
    seconds = run_to_the_end(WHOLE, tmp_path / "whole", taken.first)
    for _ in range(3):
        kill_at_some_moment(rng, seconds, WHOLE, tmp_path / "store", taken.first)
    receive(tmp_path / "store", [taken.first])
    assert everything_in(tmp_path / "store") == taken.before


# ---- no room

FULL = """
import resource, sys
from pathlib import Path
from regdash.errors import RegdashError
from regdash.intake.receive import receive
from regdash.store.freeze import freeze
from datetime import date
limit = int(sys.argv[1])
resource.setrlimit(resource.RLIMIT_FSIZE, (limit, limit))
try:
    if sys.argv[3] == "freeze":
        freeze(Path(sys.argv[2]), date(2005, 3, 31))
    else:
        receive(Path(sys.argv[2]), [Path(sys.argv[3])])
    print("done")
except RegdashError as refused:
    print(refused)
"""


def with_room_for(limit: int, store: Path, what: object) -> list[str]:
    """Work in a process whose files may not grow past a limit: what a full disk looks like, without one of our own."""
    command = [sys.executable, "-c", FULL, str(limit), str(store), str(what)]
    said = subprocess.run(command, capture_output=True, text=True, cwd=Path(__file__).parents[2], check=False)
    assert (said.returncode, said.stderr) == (0, "")
    return said.stdout.splitlines()


@pytest.mark.parametrize("share", [0.001, *(pytest.param(share, marks=pytest.mark.slow) for share in (0.8, 0.99))])
def test_a_receive_that_finds_no_room_says_so_in_one_line_and_the_store_is_as_it_was(share, taken, tmp_path):
    store = taken.begun(tmp_path)
    size, needed = ((place / "registry.duckdb").stat().st_size for place in (taken.store, taken.whole))
    (line,) = with_room_for(size + int(share * (needed - size)), store, taken.second)
    assert line == "done" or ("cannot be written" in line and line.endswith("."))
    assert everything_in(store) == (taken.after if line == "done" else taken.before)
    assert receive(store, [taken.second]).new_submissions == (line != "done")
    assert_it_is_complete(store, taken)


@pytest.mark.parametrize("limit", [1_000, 100_000, 1_500_000])
def test_a_first_receive_that_finds_no_room_leaves_no_store(limit, taken, tmp_path):
    (line,) = with_room_for(limit, tmp_path / "store", taken.second)
    assert "cannot be" in line
    assert not (tmp_path / "store").exists()


@pytest.mark.parametrize("limit", [1_000, 1_500_000])
def test_a_freeze_that_finds_no_room_says_so_in_one_line_and_leaves_no_cut(limit, taken, tmp_path):
    shutil.copytree(taken.whole, tmp_path / "store")
    (line,) = with_room_for(limit, tmp_path / "store", "freeze")
    assert "cannot be written" in line
    assert list((tmp_path / "store" / "cuts").iterdir()) == []
    assert everything_in(tmp_path / "store") == taken.after
