"""The command as a process: what it loads, how fast it ends, and how it behaves when its reader or its user leaves."""

import errno
import os
import resource
import signal
import subprocess
import sys
import time
from collections.abc import Callable

import pytest

from regdash.cli import ending
from tests.cli.asking import CHECKOUT, PROGRAM, process

HEAVY = ("textual", "polars", "scipy", "duckdb", "numpy", "plotext", "rich")
ENDLESS = "select count(*) from range(1000000) a, range(1000000) b where (a.range * b.range) % 7 = 3"


def loaded(statement: str) -> set[str]:
    """Packages that a fresh Python has loaded after a statement."""
    lines = f"{statement}\nimport sys\nprint(*sorted({{name.partition('.')[0] for name in sys.modules}}))"
    command = [sys.executable, "-c", lines]
    done = subprocess.run(command, capture_output=True, text=True, check=True, cwd=CHECKOUT)
    return set(done.stdout.splitlines()[-1].split())


def test_the_command_is_loaded_without_what_only_answers_need():
    modules = loaded("import regdash.cli.main")
    assert "click" in modules
    assert modules.isdisjoint(HEAVY)


def test_help_and_the_list_of_commands_load_no_command():
    statement = """
import contextlib, sys
from regdash.cli.main import cli
with contextlib.suppress(SystemExit):
    cli(["--help"])
assert "regdash.cli.query" not in sys.modules
"""
    assert loaded(statement).isdisjoint(HEAVY)


@pytest.mark.parametrize("module", ["query", "intake", "demo", "browse", "sql", "completion", "words", "shells"])
def test_every_command_module_is_light_so_that_completion_is_quick(module):
    assert loaded(f"import regdash.cli.{module}").isdisjoint(HEAVY)


def test_a_risk_needs_neither_the_dashboard_nor_data_frames_nor_scipy(store):
    statement = f"""
import contextlib
from regdash.cli.main import cli
with contextlib.suppress(SystemExit):
    cli(["risk", "--by", "class", "--store", {str(store)!r}])
"""
    modules = loaded(statement)
    assert {"duckdb", "numpy"} <= modules
    assert modules.isdisjoint({"textual", "polars", "scipy", "plotext"})


def test_a_reader_who_leaves_ends_the_program_quietly(store):
    """As with `regdash joints | head -1`; 141 is what a shell reports of a program ended by SIGPIPE (128 + 13)."""
    child = process("joints", "--csv", "--store", store)
    assert child.stdout is not None
    assert child.stderr is not None
    child.stdout.readline()
    child.stdout.close()
    assert child.wait(60) == 141
    assert child.stderr.read() == ""


def test_a_reader_who_has_left_before_a_short_answer_is_no_fault(store):
    read, write = os.pipe()
    os.close(read)
    child = process("cuts", "--store", store, stdout=write)
    os.close(write)
    _, stderr = child.communicate(timeout=60)
    assert (child.returncode, stderr) == (141, "")


def test_an_answer_that_finds_no_room_is_one_line(store, tmp_path):
    """Writing past the limit on the size of files fails with EFBIG; setrlimit of POSIX."""

    def no_room() -> None:
        resource.setrlimit(resource.RLIMIT_FSIZE, (64, 64))

    with (tmp_path / "answer.json").open("w") as answer:
        child = process("risk", "--json", "--store", store, stdout=answer, preexec_fn=no_room)
        _, stderr = child.communicate(timeout=60)
    assert (child.returncode, stderr) == (1, f"{os.strerror(errno.EFBIG)}.\n")


def test_an_interrupt_ends_a_running_question_without_a_traceback(store, tmp_path):
    """130 is what a shell reports of a program ended by Ctrl-C (128 + SIGINT)."""
    child = process(
        *("sql", ENDLESS, "--seconds", "50", "--store", store),
        env={"TMPDIR": str(tmp_path)},
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.default_int_handler),
    )
    until(lambda: any(tmp_path.iterdir()))  # its room is open
    time.sleep(2)
    assert child.poll() is None
    child.send_signal(signal.SIGINT)
    stdout, stderr = child.communicate(timeout=20)
    assert (child.returncode, stdout, stderr.strip()) == (130, "", "")
    assert list(tmp_path.iterdir()) == []


def until(happened: Callable[[], bool]) -> None:
    """Wait for something that happens in another process."""
    last = time.monotonic() + 30
    while not happened():
        assert time.monotonic() < last
        time.sleep(0.02)


def test_an_answer_is_utf_8_for_programs_whatever_the_locale_says(store):
    """RFC 8259 wants UTF-8; a label such as 60–69 has a dash that Latin-1 does not have."""
    words = ["describe", "--by", "age:10", "--store", str(store)]
    environ = os.environ | {"PYTHONPATH": str(CHECKOUT), "PYTHONIOENCODING": "latin-1"}
    coded = subprocess.run([*PROGRAM, *words, "--json"], capture_output=True, check=True, env=environ)
    assert "60–69" in coded.stdout.decode("utf-8")
    page = subprocess.run([*PROGRAM, *words], capture_output=True, check=True, env=environ)
    assert "60-69" in page.stdout.decode("latin-1")


@pytest.mark.parametrize("words", [["joint"], ["sql"], ["risk"], ["joints"], ["implant"], ["risk", "--by"]])
def test_bytes_that_are_no_text_are_refused_in_one_line(words, store):
    child = process(*words, "lot=\udcff", "--store", store)
    stdout, stderr = child.communicate(timeout=60)
    assert child.returncode in (1, 2)
    assert (stdout, len(stderr.splitlines())) == ("", 1)


def test_a_program_without_standard_output_ends_as_usual(store):
    command = f'"$@" cuts --store {store} >&- 2>&-'
    done = subprocess.run(["sh", "-c", command, "sh", *PROGRAM], env=os.environ | {"PYTHONPATH": str(CHECKOUT)})
    assert done.returncode == 0


def test_a_bug_keeps_its_traceback():
    def bug():
        raise ValueError("a bug")

    with pytest.raises(ValueError, match="a bug"):
        ending.exit_code(bug)


@pytest.mark.parametrize(
    ("number", "said"),
    [(errno.ENOSPC, "No space left on device"), (errno.EACCES, "Permission denied"), (errno.EROFS, "Read-only")],
)
def test_a_fault_of_the_machine_is_one_line_with_the_place(number, said, capsys):
    def fault():
        raise OSError(number, os.strerror(number), "/srv/store/x")

    assert ending.exit_code(fault) == 1
    assert capsys.readouterr().err.startswith(f"/srv/store/x: {said}")


def test_another_fault_of_the_system_is_a_bug():
    def fault():
        raise FileNotFoundError(errno.ENOENT, "No such file or directory", "sql/queries/risk.sql")

    with pytest.raises(FileNotFoundError):
        ending.exit_code(fault)
