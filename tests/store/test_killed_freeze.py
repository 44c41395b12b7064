"""A freeze that is killed leaves no cut, and what it leaves goes with the next one."""

import signal
import subprocess
import sys
from datetime import date
from pathlib import Path

from regdash.intake.receive import receive
from regdash.store.cuts import list_cuts
from regdash.store.freeze import freeze
from tests.intake.small_register import SmallRegister, primary

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
