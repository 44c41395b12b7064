"""All hospitals' editions in one run: as one by one, taken up where a run was ended, nothing overwritten."""

import shutil
import signal
import time
from pathlib import Path

import pytest

from tests.cli.asking import one_line, process, regdash
from tests.cli.test_processes import until
from tests.summary.made import Made

QUICK = """
version = "1"
title = "Own"
joints = ["knee"]
years = [1]
reason_years = 5
horizon = 5
rows_on_paper = 9
sections = ["opening", "own-activity"]
"""
DEAD = 2**22 + 1  # no process has this number: Linux gives them up to 2**22


@pytest.fixture(scope="module")
def store(made: Made, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The store, with an edition of hospitals that is quick to make."""
    found = Path(shutil.copytree(made.store, tmp_path_factory.mktemp("batch") / "store"))
    (found / "editions").mkdir(exist_ok=True)
    (found / "editions" / "hospital.toml").write_text(QUICK)
    return found


def contents(folder: Path) -> dict[str, bytes]:
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def test_a_run_makes_each_folder_and_goes_on_where_it_was_ended(made: Made, store: Path, tmp_path: Path) -> None:
    out, words = tmp_path / "all", ("summary", "2024Q3", "--for", "all-hospitals", "--json", "--out")
    first = regdash(*words, out, store=store)
    assert first.code == 0, first.stderr
    codes = [code for code in made.desk.known["hospital"] if code.startswith("H")]
    assert [(row["hospital"], row["folder"]) for row in first.json["rows"]] == [(code, "made") for code in codes]
    assert sorted(path.name for path in out.iterdir()) == codes
    alone = regdash("summary", "2024Q3", "--for", "hospital:H002", "--out", tmp_path / "H002", store=store)
    assert alone.code == 0
    assert contents(out / "H002") == contents(tmp_path / "H002")

    shutil.rmtree(out / "H002")
    half = out / f".H002.making-{DEAD}"
    half.mkdir()
    (half / "summary.html").write_text("half")
    again = regdash(*words, out, store=store)
    assert again.code == 0, again.stderr
    assert {row["hospital"] for row in again.json["rows"] if row["folder"] == "made"} == {"H002"}
    assert sorted(path.name for path in out.iterdir()) == codes
    assert contents(out / "H002") == contents(tmp_path / "H002")

    (out / "H001" / "summary.txt").write_text("changed")
    spoilt = regdash(*words, out, store=store)
    assert spoilt.code == 1
    assert "H001 holds something else" in one_line(spoilt)
    assert (out / "H001" / "summary.txt").read_text() == "changed"


@pytest.mark.slow  # a run of many folders
def test_two_interrupts_end_a_run_and_what_is_done_stays(made: Made, tmp_path: Path) -> None:
    """A second Ctrl-C came into the end of the pool once, which then waited for ever."""
    out = tmp_path / "all"
    child = process(
        *("summary", "2024Q3", "--for", "all-surgeons", "--out", out, "--store", made.store),
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.default_int_handler),
    )
    until(lambda: out.is_dir() and any(not path.name.startswith(".") for path in out.iterdir()))
    for _ in range(2):
        child.send_signal(signal.SIGINT)
        time.sleep(0.3)
    try:
        _, stderr = child.communicate(timeout=60)
    finally:
        child.kill()
    assert (child.returncode, "Traceback" in stderr) == (130, False)
    names = sorted(path.name for path in out.iterdir())
    assert names
    assert not [name for name in names if name.startswith(".")]
    assert all((out / name / "reproduction.json").is_file() for name in names)
