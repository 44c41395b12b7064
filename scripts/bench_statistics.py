"""
Speed, memory and agreement of the statistics, in one run: python3 scripts/bench_statistics.py [--folder DIR]

Ours starts from a data cut on disk, and its count is part of its time. The others start from rows that lie in
memory as they like them best. Python's libraries stand in an environment of their own, which this script makes
(or is told of with --others); R's packages are used where Rscript finds them.
"""

import argparse
import os
import shutil
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import bench
import environment
import numpy as np
from bench_questions import ALL, QUESTIONS, Answer

EXTRAS = ("lifelines==0.30.3", "autograd-gamma==0.4.2", "scikit-survival==0.28.0", "comprisk==0.8.0")
PYTHON_LIBRARIES = {
    "lifelines": ("net_risk", "cox", "screen"),
    "scikit-survival": ("net_risk", "incidence", "cox"),
    "comprisk": ("incidence", "gray"),
}
R_PACKAGES = {"survival": ("net_risk", "incidence", "cox", "screen"), "cmprsk": ("incidence", "gray")}
SCRIPTS = Path(__file__).resolve().parent
REPEATS, FEWER = 7, 3  # askings; of registers that are larger than the first
PATIENCE = 180.0  # seconds for one library and question, data and warming up included
CORES = 2
TIMES: tuple[str, ...] = ("seconds", "counting", "arithmetic")
SAME = 1e-6  # figures further apart are another answer
MEMORY_AIM = "1 GB"  # at the first size
RELATIVE = ("standard error", "statistic")  # the others are proportions, or logarithms of ratios


@dataclass(frozen=True)
class Figures:
    """What one program needed for one question, and what it found."""

    program: str
    seconds: dict[str, float]
    memory: float  # GB at the peak of its process
    answer: Answer
    trouble: str = ""

    @property
    def took(self) -> float:
        """Seconds in all; without end where there is no answer."""
        return self.seconds.get("seconds", np.inf)


def two_cores() -> None:
    """Keep this process and its children to two cores, where the system can."""
    if hasattr(os, "sched_setaffinity"):
        os.sched_setaffinity(0, sorted(os.sched_getaffinity(0))[:CORES])


def asked(program: str, command: Sequence[str], answer: Path, patience: float) -> Figures:
    """Run a program that writes its answer in a file."""
    with tempfile.TemporaryFile() as said:
        process = subprocess.Popen(command, env=bench.quiet_environ(), stdout=subprocess.DEVNULL, stderr=said)
        began = time.perf_counter()
        watch = threading.Timer(patience, process.kill)
        watch.start()
        _, status, usage = os.wait4(process.pid, 0)
        watch.cancel()
        process.returncode = os.waitstatus_to_exitcode(status)
        memory = usage.ru_maxrss * (1 if sys.platform == "darwin" else 1024) / 1e9
        if process.returncode:
            said.seek(0)
            last = said.read().decode(errors="replace").strip().splitlines()[-1:] or ["it said nothing"]
            over = time.perf_counter() - began >= patience
            return Figures(program, {}, memory, {}, f"over {patience:.0f} s" if over else f"failed: {last[0]}")
    return _read(program, answer, memory)


def _read(program: str, path: Path, memory: float) -> Figures:
    lines = dict(line.split("\t", 1) for line in path.read_text(encoding="utf-8").splitlines())
    program = f"{program} {lines.pop('version')}" if "version" in lines else program
    seconds: dict[str, float] = {name: float(lines.pop(name)) for name in TIMES if name in lines}
    return Figures(program, seconds, memory, {name: np.array(text.split(), float) for name, text in lines.items()})


def ours(store: Path, folder: Path, question: str, repeats: int) -> Figures:
    """Ask the program, in a process of its own, about a store; the folder is for its answer."""
    answer = folder / "answer"
    command = [sys.executable, str(SCRIPTS / "bench_questions.py"), str(store), question, str(repeats), str(answer)]
    found = asked("regdash", command, answer, PATIENCE)
    if found.trouble:
        sys.exit(f"regdash, {question}: {found.trouble}")
    return found


def largest_difference(one: Answer, other: Answer) -> float:
    """Between figures that both give: of proportions and logarithms as it is, of the rest relative to ours."""
    found = []
    for name in one.keys() & other.keys():
        apart = np.abs(one[name] - other[name]) / (np.abs(one[name]) if name in RELATIVE else 1)
        found.append(float(np.nanmax(apart)))
    return max(found)


class Others:
    """The general libraries that are there."""

    def __init__(self, folder: Path, python: Path | None, patience: float) -> None:
        self.folder, self.patience = folder, patience
        self.python = python or _made(folder / "others")
        self.r = shutil.which("Rscript")

    def asked(self, question: str) -> Iterator[Figures]:
        """Ask each that can answer a question."""
        rows, answer = str(self.folder / "rows"), self.folder / "answer"
        for library, questions in PYTHON_LIBRARIES.items():
            if self.python and question in questions and _has(self.python, library):
                command = [str(self.python), str(SCRIPTS / "bench_others.py"), library, question, rows, str(answer)]
                yield asked(library, command, answer, self.patience)
        for package, questions in R_PACKAGES.items():
            if self.r and question in questions and _r_has(self.r, package):
                command = [self.r, str(SCRIPTS / "bench_others.R"), package, question, rows, str(answer)]
                yield asked(f"R {package}", command, answer, self.patience)


def _made(folder: Path) -> Path | None:
    """Make an environment with the libraries; they are no part of the project's locks."""
    environment.say(f"Installing {', '.join(EXTRAS)} in {folder} ...")
    python = folder / "bin" / "python"
    commands = [sys.executable, "-m", "venv", str(folder)], [str(python), "-m", "pip", "install", "--quiet", *EXTRAS]
    for command in commands:
        if subprocess.run(command, check=False).returncode:
            environment.say("That did not work; they are left out.")
            return None
    return python


def _has(python: Path, library: str) -> bool:
    test = f"import importlib.metadata as m; m.version({library!r})"
    return subprocess.run([python, "-c", test], check=False, capture_output=True).returncode == 0


def _r_has(r: str, package: str) -> bool:
    return subprocess.run([r, "-e", f"library({package})"], check=False, capture_output=True).returncode == 0


def comparisons(mine: Mapping[str, Figures], others: Others) -> Iterator[str]:
    """A line for each question, with the fastest other that gives the same answer; below it one for each other."""
    yield _line("", "seconds", "ratio", "difference", "memory", "aim")
    for name, question in QUESTIONS.items():
        own = mine[name]
        found = sorted(others.asked(name), key=lambda each: each.took)
        same = [each for each in found if not each.trouble and largest_difference(own.answer, each.answer) < SAME]
        yield _line(question.title, f"{own.took:.3f}", *_beside(own, same[0] if same else None, own), question.aim)
        for each in found:
            yield _other(own, each)


def _other(mine: Figures, other: Figures) -> str:
    name = f"    {other.program}"
    if other.trouble:
        return f"{name:<52} {other.trouble}"
    return _line(name, f"{other.took:.3f}", *_beside(mine, other, other))


def _beside(mine: Figures, other: Figures | None, whose: Figures) -> tuple[str, str, str]:
    """Say the ratio to another, the largest difference from it, and somebody's memory."""
    memory = f"{whose.memory:.2f} GB"
    if other is None:
        return "", "", memory
    apart = largest_difference(mine.answer, other.answer)
    return f"{other.took / mine.took:.1f} ×" if apart < SAME else "another", f"{apart:.1e}", memory


def _line(what: str, seconds: str, ratio: str, apart: str, memory: str, aim: str = "") -> str:
    return f"{what:<52}{seconds:>10} {ratio:>8} {apart:>11} {memory:>9}  {aim}".rstrip()


def sizes(folder: Path, counts: Sequence[int], first: Mapping[str, Figures]) -> Iterator[str]:
    """What counting and arithmetic take as registers grow; of the first size that is known already."""
    larger = {joints: own_answers(folder, joints, FEWER) for joints in counts[1:]}
    found = {counts[0]: first, **larger}
    yield f"{'seconds, counting + arithmetic':<52}" + "".join(f"{joints:>17,}" for joints in counts)
    for name, question in QUESTIONS.items():
        seconds = [found[joints][name].seconds for joints in counts]
        parts = (f"{each['counting']:.3f} + {each['arithmetic']:.3f}" for each in seconds)
        yield f"{question.title:<52}" + "".join(f"{part:>17}" for part in parts)
    peaks = (ours(_store(folder, joints), folder, ALL, 1).memory for joints in counts)
    yield f"{'peak memory, all of them in one process':<52}" + "".join(f"{peak:>14.2f} GB" for peak in peaks)
    yield f"{'    aim':<52}{MEMORY_AIM:>17}"


def own_answers(folder: Path, joints: int, repeats: int = REPEATS) -> dict[str, Figures]:
    """Ask the program every question about a register of one size."""
    return {name: ours(_store(folder, joints), folder, name, repeats) for name in QUESTIONS}


def _store(folder: Path, joints: int) -> Path:
    return folder / f"store-{joints}"


def measure(folder: Path, counts: Sequence[int], python: Path | None, patience: float = PATIENCE) -> None:
    """Make the cuts, then print each line as soon as it is measured; others answer at the first size."""
    two_cores()
    others = Others(folder, python, patience)
    for joints in counts:
        # Elsewhere: the peak memory of a process is never below that of the one that starts it.
        rows = [str(folder / "rows")] if joints == counts[0] else []
        spent = bench.child(
            [sys.executable, str(SCRIPTS / "bench_cut.py"), str(_store(folder, joints)), str(joints), *rows]
        )
        environment.say(f"A cut of {joints:,} joints was made: {spent}")
    head, load = f"{counts[0]:,} joints, {CORES} cores, Python {sys.version.split()[0]}", os.getloadavg()[0]
    print(f"{head}, load {load:.1f} before; medians; ours counts on a data cut, the others have rows in memory")
    mine = own_answers(folder, counts[0])
    for lines in (comparisons(mine, others), iter([""]), sizes(folder, counts, mine)):
        for line in lines:
            print(line, flush=True)


def main() -> None:
    """Measure in a folder of our own, or in one that is kept."""
    environment.prepare("test")
    if Path(sys.prefix) != environment.VENV:
        os.execv(environment.python(), [str(environment.python()), *sys.argv])
    parser = argparse.ArgumentParser(description="Measure the statistics beside general libraries.")
    parser.add_argument("--joints", type=int, nargs="+", default=[1_000_000, 3_000_000, 10_000_000], metavar="N")
    parser.add_argument("--folder", type=Path, help="a folder to work in, and to keep")
    parser.add_argument("--others", type=Path, metavar="PYTHON", help="a Python that has the libraries already")
    parser.add_argument("--patience", type=float, default=PATIENCE, metavar="SECONDS", help="for one library's answer")
    options = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="regdash-bench-") as scratch:
        measure(options.folder or Path(scratch), options.joints, options.others, options.patience)


if __name__ == "__main__":
    environment.one_line(main)
