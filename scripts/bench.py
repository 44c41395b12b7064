"""
Speed and memory of the whole way, in one run: python3 scripts/bench.py [--joints N] [--folder DIR]

More joints than are drawn at once are those lives several times over, in a cut of their own.
With --dashboard it measures the dashboard alone: start, key presses, bytes over the line, memory.
With --summaries it measures the documents of a quarter alone, each edition and those of every hospital and surgeon.
With --statistics it hands over to `bench_statistics.py`, which says what else it takes.
Times of this machine, taken one after the other; ratios compare two things measured in the same run.
"""

import argparse
import functools
import json
import math
import os
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import environment

if TYPE_CHECKING:
    from painted import Press

STATISTICS = "--statistics"
REPEATS = 15
STARTS = 5
SCREENS = 3
MOST_NAMED = 4  # keys that take longest, or most bytes
SCRIPTS = Path(__file__).resolve().parent
SCREEN_AIMS = {"implants": "1 s at 300", "constructs": "5 s at 4,000"}
THROUGH = "2024-12-31"
MOST_DRAWN = 1_000_000  # joints that go the whole way; each further million would take 3 GB of memory more
GENERATE = (
    "import sys, pathlib, synthetic_registry\n"
    "synthetic_registry.make(pathlib.Path(sys.argv[1]), joints=int(sys.argv[2]))"
)
QUESTION = ("joint=knee", "--by", "class", "--years", "1,5,10,15")


@dataclass(frozen=True)
class Line:
    """One line of the table: what was done, what it took, and what it should take."""

    what: str
    measured: str
    aim: str = ""


def quiet_environ() -> dict[str, str]:
    """The environment for what is measured: byte code is kept, as on a user's machine."""
    environ = environment.environ()
    environ.pop("PYTHONDONTWRITEBYTECODE", None)
    return environ


def program(*arguments: str) -> list[str]:
    """The command line of the program in this environment."""
    return [str(environment.VENV / "bin" / "regdash"), *arguments]


@dataclass(frozen=True)
class Spent:
    """What a process took: seconds by the clock, seconds of processor, and its peak memory in GB."""

    seconds: float
    processor: float
    memory: float

    def __str__(self) -> str:
        """Write it as the table does."""
        return f"{self.seconds:.1f} s ({self.processor:.0f} s of processor), {self.memory:.1f} GB"


def child(command: list[str]) -> Spent:
    """Run a process to its end."""
    began = time.perf_counter()
    with tempfile.TemporaryFile() as said:
        process = subprocess.Popen(command, env=quiet_environ(), stdout=subprocess.DEVNULL, stderr=said)
        _, status, usage = os.wait4(process.pid, 0)
        process.returncode = os.waitstatus_to_exitcode(status)
        if process.returncode:
            said.seek(0)
            sys.exit(f"{' '.join(command[:3])} … failed:\n{said.read().decode()}")
    unit = 1 if sys.platform == "darwin" else 1024
    return Spent(time.perf_counter() - began, usage.ru_utime + usage.ru_stime, usage.ru_maxrss * unit / 1e9)


def middle(work: Callable[[], object], repeats: int = REPEATS) -> tuple[float, float]:
    """Median and least seconds of a piece of work."""
    took = []
    for _ in range(repeats):
        began = time.perf_counter()
        work()
        took.append(time.perf_counter() - began)
    return statistics.median(took), min(took)


def set_apart(submitted: Path, folder: Path) -> int:
    """Move what was received after the last day, which is the last quarter, to a folder; count its operations."""
    operations = 0
    for path in sorted(submitted.rglob("envelope.json")):
        envelope = json.loads(path.read_text(encoding="utf-8"))
        if envelope["received_date"] > THROUGH:
            operations += envelope["files"].get("operations.csv", 0)
            target = folder / path.parent.relative_to(submitted)
            target.parent.mkdir(parents=True, exist_ok=True)
            shutil.move(path.parent, target)
    return operations


def whole_way(folder: Path, joints: int) -> Iterator[Line]:
    """Generate, take in all but the last quarter, then that, and freeze, each in a process of its own."""
    out, quarter, store = folder / "submitted", folder / "quarter", folder / "store"
    generate = [sys.executable, "-c", GENERATE, str(out), str(joints)]
    yield Line("generate", str(child(generate)), "60 s, 3 GB")
    operations = set_apart(out, quarter)
    received = child(program("receive", str(out), "--store", str(store)))
    yield Line("receive", str(received), "90 s, 4 GB")
    late = child(program("receive", str(quarter), "--store", str(store)))
    yield Line("a quarter's submissions into the store", f"{late} for {operations:,} operations", "5 s at 15,000")
    frozen = child(program("freeze", "--through", THROUGH, "--store", str(store)))
    yield Line("freeze", str(frozen), "30 s, 4 GB")


def several_times(store: Path, times: int, larger: Path) -> Iterator[Line]:
    """Make a cut of a register's lives several times over, in a store of its own."""
    made = child([sys.executable, str(SCRIPTS / "bench_multiplied.py"), str(store), str(times), str(larger)])
    size = sum(path.stat().st_size for path in larger.rglob("*") if path.is_file()) / 1e9
    yield Line(f"a cut of the same lives {times} times over", f"{made}, {size:.1f} GB of disk")


def questions(store: Path) -> Iterator[Line]:
    """The risk by class after imports, against the database's own time for the count it is made from."""
    import duckdb

    from regdash import cohort, grouping
    from regdash.reports.desk import Desk
    from regdash.store.cuts import LAST_JOINT, cut_path
    from regdash.store.sqlfiles import statement

    desk = Desk(store)
    asked, by = cohort.parse(["joint=knee"], known=desk.known), grouping.parse("class")

    def answered() -> None:
        desk.forget()  # a count that was kept would be no count
        desk.risk(asked, by)

    answer, best = middle(answered)
    cut = str(cut_path(store, desk.manifest.cut))
    desk.close()  # the database lets nobody open the file otherwise in the same process
    parts = {
        "grouping": "enum_code(class)::integer as class, ",
        "reason": "reason_group",
        "no_reason": "0",
        "predicate": "joint = 'knee'",
    }
    # The database's own way to the event table; the program sorts joints that it fetches.
    bare = f"select *, count(*)::integer from ({statement('queries/event_rows', **parts)}) as joints group by all"
    everybody = {"first_joint": 0, "end_joint": LAST_JOINT}
    with duckdb.connect(cut, read_only=True) as database:
        count, least = middle(lambda: database.execute(bare, everybody).fetchnumpy())
    yield Line("the bare count in DuckDB", f"{1000 * count:.0f} ms (best {1000 * least:.0f})")
    yield Line("risk by class, after imports", f"{1000 * answer:.0f} ms (best {1000 * best:.0f})")
    yield Line("… against the bare count", f"{answer / count:.1f} × (best against best {best / least:.1f})", "3 ×")


def screens(store: Path) -> Iterator[Line]:
    """The screens from the question to the answer, and their history, against the bare count of all joints."""
    import duckdb

    from regdash.cohort import Cohort
    from regdash.signals.desk import SignalsDesk
    from regdash.signals.history_model import HistoryReport
    from regdash.store.cuts import cut_path

    desk = SignalsDesk(store)
    took: dict[str, tuple[float, float]] = {}
    units: dict[str, int] = {}

    def screened(kind: str) -> None:
        desk.forget()
        units[kind] = len({(row.joint_class, row.role, row.code) for row in desk.screen(kind, Cohort()).rows})

    def replayed() -> HistoryReport:
        return desk.history("implants", Cohort(), again=True)

    for kind in ("implants", "constructs", "sizes", "lots"):
        screened(kind)  # the first loads what is needed
        took[kind] = middle(functools.partial(screened, kind), SCREENS)
    began = time.perf_counter()
    quarters = len(replayed().quarters)
    replay = time.perf_counter() - began
    cut = str(cut_path(store, desk.manifest.cut))
    desk.close()
    bare = "select class, joint, days, ended, count(*)::integer from follow_up group by all"
    with duckdb.connect(cut, read_only=True) as database:
        count, _ = middle(lambda: database.execute(bare).fetchnumpy())
    for kind, (answer, best) in took.items():
        said = f"{answer:.2f} s (best {best:.2f}) for {units[kind]:,}; {answer / count:.0f} × the bare count"
        yield Line(f"screen of {kind}", said, SCREEN_AIMS.get(kind, ""))
    yield Line(
        f"history of implants, {quarters} quarters", f"{replay:.1f} s; {replay / count:.0f} × the bare count", "60 s"
    )


def processes(store: Path) -> Iterator[Line]:
    """The same question as a command."""
    command = program("risk", *QUESTION, "--json", "--store", str(store))
    answer, best = middle(lambda: child(command))
    yield Line("risk as a process", f"{answer:.2f} s (best {best:.2f})")


def dashboard(store: Path) -> Iterator[Line]:
    """The dashboard in a real pseudo-terminal, its screen read through a terminal emulator."""
    from painted import Dashboard

    from regdash.store.cuts import find_cut

    aim = "p95 100 ms" if find_cut(store).joints <= MOST_DRAWN else "p95 500 ms"
    for size in ((80, 24), (200, 50)):
        opened = Dashboard(program("browse", "--store", str(store)), size, quiet_environ())
        first = opened.starts(STARTS)
        changes = opened.filter_changes(store)
        presses, memory = opened.presses()
        name = f"{size[0]}×{size[1]}"
        yield Line(
            f"start to painted chart, {name}", f"{statistics.median(first):.2f} s (best {min(first):.2f})", "0.7 s"
        )
        yield Line(f"filter change to painted, {name}", f"{_shares(changes)} of {len(changes)}", "p95 150 ms")
        took = [press.seconds for press in presses if press.seconds is not None]
        yield Line(f"key press to painted, {name}", f"{_shares(took)} of {len(took)}", aim)
        slowest = _most(presses, lambda press: 1000 * (press.seconds or 0))
        yield Line("    the slowest keys, ms", slowest)
        p50, p95 = _at(sorted(press.size for press in presses))
        yield Line(f"bytes per key press, {name}", f"p50 {p50:,.0f}, p95 {p95:,.0f}")
        yield Line("    the keys with most", _most(presses, lambda press: press.size))
        places = (f"{press.key} {press.seconds or 0:.2f}" for press in opened.first_answers())
        yield Line(f"places, all their answers, s, {name}", ", ".join(places))
        yield Line(f"memory of the dashboard, {name}", f"{memory:.2f} GB")


def _most(presses: Sequence["Press"], figure: Callable[["Press"], float]) -> str:
    """Name the keys with the largest medians of a figure."""
    found: dict[str, list[float]] = {}
    for press in presses:
        found.setdefault(press.key, []).append(figure(press))
    medians = sorted(((statistics.median(figures), key) for key, figures in found.items()), reverse=True)
    return ", ".join(f"{key} {median:,.0f}" for median, key in medians[:MOST_NAMED])


def summaries(store: Path) -> Iterator[Line]:
    """The editions of a quarter; the memory is that of the largest process."""
    from bench_summaries import editions

    yield from (Line(*line) for line in editions(store, program, child))


def _shares(seconds: Sequence[float]) -> str:
    p50, p95 = _at(sorted(seconds))
    return f"p50 {1000 * p50:.0f}, p95 {1000 * p95:.0f} ms"


def _at(rising: Sequence[float]) -> tuple[float, float]:
    """The values that half and 95 in 100 do not exceed."""
    p50, p95 = (rising[math.ceil(share * len(rising)) - 1] for share in (0.5, 0.95))
    return p50, p95


def measure(folder: Path, joints: int, alone: Callable[[Path], Iterator[Line]] | None) -> None:
    """Print each line as soon as it is measured: of the whole way, and of all else or of one part alone."""
    python, load = sys.version.split()[0], os.getloadavg()[0]
    print(f"{joints:,} joints, {os.cpu_count()} cores, load {load:.1f} before, Python {python}; medians unless said")
    print(f"{'':<40} {'measured':<62} aim")
    drawn, times = folder / "store", math.ceil(joints / MOST_DRAWN)
    store = folder / f"store-{times}-times" if times > 1 else drawn
    made = () if drawn.exists() else (whole_way(folder, joints // times),)
    larger = () if times == 1 or store.exists() else (several_times(drawn, times, store),)
    parts = (alone,) if alone else (questions, screens, processes, dashboard)
    for lines in (*made, *larger, *(part(store) for part in parts)):
        for line in lines:
            print(f"{line.what:<40} {line.measured:<62} {line.aim}".rstrip(), flush=True)


def main() -> None:
    """Measure in a folder of our own, or in one that is kept."""
    environment.prepare("test")
    if Path(sys.prefix) != environment.VENV:
        os.execv(environment.python(), [str(environment.python()), *sys.argv])
    if STATISTICS in sys.argv:
        rest = [argument for argument in sys.argv[1:] if argument != STATISTICS]
        os.execv(sys.executable, [sys.executable, str(SCRIPTS / "bench_statistics.py"), *rest])
    parser = argparse.ArgumentParser(description="Measure speed and memory of the whole way.")
    parser.add_argument("--joints", type=int, default=1_000_000)
    parser.add_argument("--folder", type=Path, help="a folder to keep; stores in it are not made again")
    parser.add_argument(STATISTICS, action="store_true", help="measure the statistics beside general libraries")
    parser.add_argument("--dashboard", action="store_true", help="measure the dashboard alone")
    parser.add_argument("--summaries", action="store_true", help="measure the documents of a quarter alone")
    options = parser.parse_args()
    alone = dashboard if options.dashboard else summaries if options.summaries else None
    if options.folder:
        measure(options.folder, options.joints, alone)
        return
    with tempfile.TemporaryDirectory(prefix="regdash-bench-") as folder:
        measure(Path(folder), options.joints, alone)


if __name__ == "__main__":
    environment.one_line(main)
