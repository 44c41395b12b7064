"""A freeze that is killed leaves no cut, and what it leaves goes with the next one."""

import random
import signal
import subprocess
import sys
from datetime import date
from pathlib import Path

import pytest

from regdash.intake.receive import receive
from regdash.store.connect import opened
from regdash.store.cuts import cut_path, list_cuts
from regdash.store.freeze import freeze
from regdash.store.manifest import content_hash, table_hashes
from tests.intake.small_register import SmallRegister, primary
from tests.intake.test_files import state_of
from tests.killing import kill_at_some_moment, kill_once, run_to_the_end

CHILD = """
import sys, time
from datetime import date
from pathlib import Path
from regdash.store.freeze import freeze

def stop(what, done, total):
    if what == "making the cut" and done == total - 1:
        print("there", flush=True)
        time.sleep(600)

freeze(Path(sys.argv[1]), date(2004, 12, 31), progress=stop)
"""


@pytest.mark.slow  # a process is killed
def test_a_killed_freeze_leaves_no_cut_and_the_next_one_clears_up(tmp_path):
    register = SmallRegister(tmp_path / "in")
    register.catalogue()
    register.units()
    register.operations("2005-01-15", [primary("H001-0000001", 1, "2004-12-01")])
    store = tmp_path / "store"
    receive(store, [tmp_path / "in"])
    child = subprocess.Popen(
        [sys.executable, "-c", CHILD, str(store)], stdout=subprocess.PIPE, text=True, cwd=Path(__file__).parents[2]
    )
    assert child.stdout is not None
    assert child.stdout.readline() == "there\n"
    # Two may freeze at once; neither takes the other's work for a leftover.
    assert freeze(store, date(2004, 12, 31)).cut == "2004-12-31.1"
    assert [path.name for path in (store / "cuts").glob(".making-*")] == [f".making-{child.pid}"]
    child.send_signal(signal.SIGKILL)
    child.wait()
    child.stdout.close()
    assert [manifest.cut for manifest in list_cuts(store)] == ["2004-12-31.1"]
    assert freeze(store, date(2004, 12, 31)).cut == "2004-12-31.2"
    assert sorted(path.suffix for path in (store / "cuts").iterdir()) == [".duckdb", ".duckdb", ".json", ".json"]


WHOLE = """
import sys
from datetime import date
from pathlib import Path
from regdash.store.freeze import freeze
print("begun", flush=True)
freeze(Path(sys.argv[1]), date(2004, 12, 31))
"""


def check_cuts(store: Path, wanted_hash: str) -> int:
    """Each cut that is listed is whole: its rows have the hash that its manifest says. Give how many there are."""
    cuts = list_cuts(store)
    for manifest in cuts:
        with opened(cut_path(store, manifest.cut)) as cut:
            assert content_hash(table_hashes(cut)) == manifest.content_hash == wanted_hash
    return len(cuts)


def check_that_any_moment_will_do(tmp_path: Path, moments: int, seed: int) -> None:
    """Every other freeze is killed while it puts a cut in its place."""
    register = SmallRegister(tmp_path / "in")
    register.catalogue()
    register.units()
    register.operations("2005-01-15", [primary(f"H001-{n:07d}", n, "2004-12-01") for n in range(1, 300)])
    store, cuts = tmp_path / "store", tmp_path / "store" / "cuts"
    receive(store, [tmp_path / "in"])
    seconds = run_to_the_end(WHOLE, store)
    (first,) = list_cuts(store)
    before = (store / "registry.duckdb").read_bytes()
    rng, at_work, there = random.Random(seed), 0, 1

    def begins_to_be_placed() -> bool:
        return len(list(cuts.glob("*.duckdb"))) > there

    for n in range(moments):
        there = len(list(cuts.glob("*.duckdb")))
        if n % 2:
            at_work += kill_once(begins_to_be_placed, rng.uniform(0, 0.03), WHOLE, store)
        else:
            at_work += kill_at_some_moment(rng, seconds, WHOLE, store)
        check_cuts(store, first.content_hash)
        assert (store / "registry.duckdb").read_bytes() == before
    assert at_work > 0
    made = freeze(store, date(2004, 12, 31))
    assert made.content_hash == first.content_hash
    listed = {f"{manifest.cut}.{suffix}" for manifest in list_cuts(store) for suffix in ("duckdb", "json")}
    left = set(state_of(cuts)) - listed
    # At worst the name of a cut was taken, by an empty file, just before the freeze was killed.
    assert all((cuts / name).stat().st_size == 0 for name in left), left
    assert not list(cuts.glob(".making-*"))


@pytest.mark.slow  # many kills; one in the middle stays
def test_a_freeze_killed_at_any_moment_leaves_whole_cuts_alone(tmp_path):
    check_that_any_moment_will_do(tmp_path, moments=6, seed=4)


@pytest.mark.slow
def test_a_freeze_killed_at_sixty_moments_leaves_whole_cuts_alone(tmp_path):
    check_that_any_moment_will_do(tmp_path, moments=60, seed=5)
