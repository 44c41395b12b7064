"""
A receive that is killed leaves the store as it was; so does one that fails.
"""

import errno
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
