"""
A receive that is killed leaves the store as it was; so does one that fails.
"""

import errno
import random
import shutil
import signal
import subprocess
import sys
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


@pytest.fixture
def two_submissions(tmp_path) -> SmallRegister:
    register = SmallRegister(tmp_path / "first")
    register.catalogue()
    register.units()
    register.operations("2005-01-15", [primary("H001-0000001", 1, "2004-12-01")])
    register.folder = tmp_path / "second"
    rows = [primary(f"H001-{n:07d}", n, "2005-02-01") for n in range(2, 3000)]
    register.operations("2005-04-15", rows)
    return register


@pytest.mark.parametrize("stage", ["checking files", "taking in rows", "checking and linking"])
def test_a_receive_killed_in_the_middle_leaves_the_store_as_it_was(stage, two_submissions, tmp_path):
    store = tmp_path / "store"
    receive(store, [tmp_path / "first"])
    before = everything_in(store)
    kill_in_the_middle(store, tmp_path / "second", stage)
    assert everything_in(store) == before
    receipt = receive(store, [tmp_path / "second"])
    assert receipt.total("accepted") == 2998 * 4
    assert sorted(path.name for path in store.iterdir()) == ["registry.duckdb"]


def test_the_first_receive_killed_in_the_middle_leaves_a_store_that_can_be_begun_again(two_submissions, tmp_path):
    store = tmp_path / "store"
    kill_in_the_middle(store, tmp_path / "first", "taking in rows")
    assert receive(store, [tmp_path / "first"]).new_submissions == 3


def test_a_receive_that_fails_leaves_the_store_as_it_was(two_submissions, tmp_path):
    store = tmp_path / "store"
    receive(store, [tmp_path / "first"])
    before = everything_in(store)

    def fail(what: str, done: int, total: int) -> None:
        if what == "checking and linking":
            raise OSError(errno.ENOSPC, "No space left on device")

    with pytest.raises(StoreError, match=r"store cannot be written: No space left on device\.$"):
        receive(store, [tmp_path / "second"], fail)
    assert everything_in(store) == before
    assert sorted(path.name for path in store.iterdir()) == ["registry.duckdb"]


# ---- killed at any moment

WHOLE = """
import sys
from pathlib import Path
from regdash.intake.receive import receive
print("begun", flush=True)
receive(Path(sys.argv[1]), [Path(sys.argv[2])])
"""


def check_that_any_moment_will_do(tmp_path: Path, moments: int, seed: int) -> None:
    """
    Kill a receive again and again, on what the last one left; each leaves the store as before or complete.

    Every other is killed while the log of the database is being written, which is where a store could be lost.
    """
    rng = random.Random(seed)
    store, before_it, whole = tmp_path / "store", tmp_path / "before", tmp_path / "whole"
    receive(before_it, [tmp_path / "first"])
    shutil.copytree(before_it, whole)
    seconds = run_to_the_end(WHOLE, whole, tmp_path / "second")
    before, after = everything_in(before_it), everything_in(whole)
    assert before != after
    shutil.copytree(before_it, store)
    log, at_work = store / "registry.duckdb.wal", 0
    for n in range(moments):
        if n % 2:
            moment = rng.uniform(0, 0.05)
            at_work += kill_once(log.exists, moment, WHOLE, store, tmp_path / "second")
        else:
            at_work += kill_at_some_moment(rng, seconds, WHOLE, store, tmp_path / "second")
        found = everything_in(store)
        assert found in (before, after)
        if found == after:
            shutil.rmtree(store)
            shutil.copytree(before_it, store)
    assert at_work > 0
    receive(store, [tmp_path / "second"])
    assert everything_in(store) == after
    assert sorted(path.name for path in store.iterdir()) == ["registry.duckdb"]


def test_a_receive_killed_at_any_moment_leaves_the_store_as_it_was_or_complete(two_submissions, tmp_path):
    check_that_any_moment_will_do(tmp_path, moments=5, seed=4)


@pytest.mark.slow
def test_a_receive_killed_at_a_hundred_moments_leaves_the_store_as_it_was_or_complete(two_submissions, tmp_path):
    check_that_any_moment_will_do(tmp_path, moments=100, seed=5)


def test_a_first_receive_killed_at_any_moment_can_be_begun_again(two_submissions, tmp_path):
    rng = random.Random(6)
    seconds = run_to_the_end(WHOLE, tmp_path / "whole", tmp_path / "first")
    for _ in range(3):
        kill_at_some_moment(rng, seconds, WHOLE, tmp_path / "store", tmp_path / "first")
    receive(tmp_path / "store", [tmp_path / "first"])
    assert everything_in(tmp_path / "store") == everything_in(tmp_path / "whole")


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


@pytest.mark.parametrize("share", [0.001, 0.8, 0.99])
def test_a_receive_that_finds_no_room_says_so_in_one_line_and_the_store_is_as_it_was(share, two_submissions, tmp_path):
    store = tmp_path / "store"
    receive(store, [tmp_path / "first"])
    before, size = everything_in(store), (store / "registry.duckdb").stat().st_size
    shutil.copytree(store, tmp_path / "whole")
    receive(tmp_path / "whole", [tmp_path / "second"])
    after, needed = everything_in(tmp_path / "whole"), (tmp_path / "whole" / "registry.duckdb").stat().st_size
    (line,) = with_room_for(size + int(share * (needed - size)), store, tmp_path / "second")
    assert line == "done" or ("cannot be written" in line and line.endswith("."))
    assert everything_in(store) == (after if line == "done" else before)
    assert receive(store, [tmp_path / "second"]).new_submissions == (line != "done")
    assert everything_in(store) == after
    assert sorted(path.name for path in store.iterdir()) == ["registry.duckdb"]


@pytest.mark.parametrize("limit", [1_000, 100_000, 1_500_000])
def test_a_first_receive_that_finds_no_room_leaves_no_store(limit, two_submissions, tmp_path):
    (line,) = with_room_for(limit, tmp_path / "store", tmp_path / "second")
    assert "cannot be" in line
    assert not (tmp_path / "store").exists()


@pytest.mark.parametrize("limit", [1_000, 1_500_000])
def test_a_freeze_that_finds_no_room_says_so_in_one_line_and_leaves_no_cut(limit, two_submissions, tmp_path):
    store = tmp_path / "store"
    receive(store, [tmp_path / "first", tmp_path / "second"])
    before = everything_in(store)
    (line,) = with_room_for(limit, store, "freeze")
    assert "cannot be written" in line
    assert list((store / "cuts").iterdir()) == []
    assert everything_in(store) == before
