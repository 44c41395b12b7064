"""`.venv` is made once, kept while it fits, and made again after any interruption or change."""

import errno
import subprocess
import sys
from pathlib import Path
from types import SimpleNamespace

import environment
import pytest
from environment import SetupError

PYPROJECT = '[build-system]\nrequires = []\n[project]\ndependencies = ["numpy"]\n[tool.ruff]\nline-length = 120\n'


class Checkout:
    """A checkout of its own, and a record of the commands that a set-up would have run there."""

    def __init__(self, root: Path) -> None:
        self.root = root
        self.ran: list[str] = []
        self.stop_at: str | None = None
        self.stop_with: BaseException = KeyboardInterrupt()
        (root / "scripts").mkdir()
        (root / "pyproject.toml").write_text(PYPROJECT)
        for lock in ("requirements.lock", "requirements-test.lock"):
            (root / "scripts" / lock).write_text("numpy==1 \\\n    --hash=sha256:0\n")

    def run(self, command: list[str], trouble: str, each_line=None) -> None:
        """Stand in for a real command: venv leaves a Python, pip a package."""
        step = "venv" if "venv" in command else "editable" if "--editable" in command else "locked"
        self.ran.append(step)
        leaves = self.root / ".venv" / ("bin/python" if step == "venv" else f"lib/{step}")
        leaves.parent.mkdir(parents=True, exist_ok=True)
        leaves.touch()
        if step == self.stop_at:
            raise self.stop_with

    def steps(self, size: str) -> list[str]:
        """What a set-up of this size does now."""
        self.ran.clear()
        environment.prepare(size)
        return list(self.ran)


@pytest.fixture
def checkout(tmp_path, monkeypatch):
    checkout = Checkout(tmp_path)
    monkeypatch.setattr(environment, "ROOT", tmp_path)
    monkeypatch.setattr(environment, "VENV", tmp_path / ".venv")
    locks = {"run": "requirements.lock", "test": "requirements-test.lock"}
    monkeypatch.setattr(environment, "LOCKS", {size: tmp_path / "scripts" / name for size, name in locks.items()})
    monkeypatch.setattr(environment, "_run", checkout.run)
    return checkout


ALL = ["venv", "locked", "editable"]


@pytest.mark.parametrize("size", ["run", "test"])
def test_the_second_time_nothing_is_done(checkout, size):
    assert checkout.steps(size) == ALL
    assert checkout.steps(size) == []


def test_what_the_checks_need_is_added_to_what_the_program_needs(checkout):
    checkout.steps("run")
    assert checkout.steps("test") == ["locked", "editable"]


def test_what_the_checks_need_holds_what_the_program_needs(checkout):
    checkout.steps("test")
    assert checkout.steps("run") == []


@pytest.mark.parametrize("step", ALL)
@pytest.mark.parametrize("trouble", [KeyboardInterrupt(), SetupError("pip failed."), OSError(errno.ENOSPC, "full")])
def test_after_an_interruption_the_next_set_up_starts_afresh(checkout, step, trouble):
    checkout.stop_at, checkout.stop_with = step, trouble
    with pytest.raises(type(trouble)):
        environment.prepare("run")
    leftover = environment.VENV / "leftover"
    leftover.touch()
    checkout.stop_at = None
    assert not environment.ready("run")
    assert checkout.steps("run") == ALL
    assert not leftover.exists()


def test_an_interrupted_set_up_for_the_checks_leaves_the_program_usable(checkout):
    checkout.steps("run")
    checkout.stop_at = "locked"
    with pytest.raises(KeyboardInterrupt):
        environment.prepare("test")
    checkout.stop_at = None
    assert checkout.steps("run") == []
    assert checkout.steps("test") == ALL


def test_a_removal_cut_short_is_still_known_as_ours(checkout, monkeypatch):
    checkout.steps("run")
    (checkout.root / "scripts" / "requirements.lock").write_text("numpy==2 \\\n    --hash=sha256:1\n")
    with monkeypatch.context() as cut:
        cut.setattr(environment.shutil, "rmtree", lambda path: (_ for _ in ()).throw(KeyboardInterrupt()))
        with pytest.raises(KeyboardInterrupt):
            environment.prepare("run")
    assert checkout.steps("run") == ALL


@pytest.mark.parametrize(
    ("file", "old", "new", "again"),
    [
        ("scripts/requirements.lock", "numpy==1", "numpy==2", True),
        ("pyproject.toml", '"numpy"', '"numpy", "scipy"', True),
        ("pyproject.toml", "line-length = 120", "line-length = 100", False),
    ],
)
def test_a_changed_lock_or_dependency_makes_it_again_and_a_setting_of_a_tool_does_not(checkout, file, old, new, again):
    checkout.steps("run")
    path = checkout.root / file
    path.write_text(path.read_text().replace(old, new))
    assert checkout.steps("run") == (ALL if again else [])


def test_another_python_makes_it_again(checkout, monkeypatch):
    checkout.steps("run")
    faked = SimpleNamespace(version_info=(3, 99, 0), version="3.99.0", executable=sys.executable, stderr=sys.stderr)
    monkeypatch.setattr(environment, "sys", faked)
    assert checkout.steps("run") == ALL


def test_a_python_that_has_gone_makes_it_again(checkout):
    checkout.steps("run")
    environment.python().unlink()
    assert checkout.steps("run") == ALL


def test_an_environment_that_somebody_else_made_is_left_alone(checkout):
    theirs = environment.VENV / "bin" / "python"
    theirs.parent.mkdir(parents=True)
    theirs.touch()
    with pytest.raises(SetupError, match="made by something else"):
        environment.prepare("run")
    assert theirs.exists()
    assert checkout.ran == []


def test_a_missing_module_is_named_with_what_brings_it(checkout, monkeypatch):
    monkeypatch.setattr(environment.importlib.util, "find_spec", lambda name: None if name == "ensurepip" else name)
    with pytest.raises(SetupError, match=r"no ensurepip module.*apt install python3\.\d+-venv"):
        environment.prepare("run")


def test_too_little_space_is_said_before_anything_is_made(checkout, monkeypatch):
    monkeypatch.setattr(environment.shutil, "disk_usage", lambda path: SimpleNamespace(free=12_000_000))
    with pytest.raises(SetupError, match=r"The disk is full: .* has 12 MB free"):
        environment.prepare("run")
    assert not environment.VENV.exists()


def left_with(script: str) -> subprocess.CompletedProcess[str]:
    """Run a script's main through the guard, as the two commands do, in a process of its own."""
    code = f"import errno, environment\ndef main():\n    {script}\nenvironment.one_line(main)"
    folder = str(Path(environment.__file__).parent)
    return subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, env={"PYTHONPATH": folder}, check=False
    )


@pytest.mark.parametrize("code", ["ENOSPC", "EDQUOT"])
def test_a_disk_that_fills_up_leaves_one_line(code):
    ran = left_with(f"raise OSError(errno.{code}, 'no room', '/data/file')")
    assert (ran.returncode, ran.stderr.count("\n")) == (1, 1)
    assert ran.stderr.startswith("The disk is full. /data/file could not be written.")


def test_what_a_person_can_mend_leaves_one_line():
    ran = left_with("raise environment.SetupError('pip is gone.')")
    assert (ran.returncode, ran.stderr) == (1, "pip is gone.\n")


def test_an_interruption_says_how_to_go_on():
    ran = left_with("raise KeyboardInterrupt")
    assert ran.returncode == 130
    assert "Run the same command again" in ran.stderr


@pytest.mark.parametrize("bug", ["raise ValueError('a bug')", "raise OSError(errno.EACCES, 'denied')"])
def test_a_bug_keeps_its_traceback(bug):
    assert "Traceback" in left_with(bug).stderr


def run_printing(tmp_path, monkeypatch, *lines: str) -> str:
    """Run a command that prints these lines and fails; what is said of it."""
    monkeypatch.setattr(environment, "VENV", tmp_path)
    script = "".join(f"print({line!r})\n" for line in lines) + "raise SystemExit(1)"
    with pytest.raises(SetupError) as said:
        environment._run([sys.executable, "-c", script], "pip could not do it")
    assert all(line in (tmp_path / "setup.log").read_text() for line in lines)
    return str(said.value)


def test_a_failing_pip_is_told_by_its_last_error(tmp_path, monkeypatch):
    said = run_printing(tmp_path, monkeypatch, "WARNING: retrying", "ERROR: No matching distribution", "hint: none")
    assert said.startswith("pip could not do it: No matching distribution (all it printed: ")
    assert "\n" not in said


def test_a_disk_that_fills_up_under_pip_is_told_as_that(tmp_path, monkeypatch):
    said = run_printing(tmp_path, monkeypatch, "ERROR: Could not install: [Errno 28] No space left on device")
    assert said.startswith("The disk is full. pip could not do it.")


def test_two_set_ups_at_once_wait_for_each_other(checkout):
    """The second, in another process, gets the lock only when the first has let go."""
    code = (
        "import fcntl, sys\n"
        "held = open(sys.argv[1])\n"
        "try: fcntl.flock(held, fcntl.LOCK_EX | fcntl.LOCK_NB)\n"
        "except BlockingIOError: print('held')\n"
        "else: print('free')\n"
    )
    command = [sys.executable, "-c", code, str(checkout.root / "pyproject.toml")]
    with environment._alone():
        assert subprocess.check_output(command, text=True) == "held\n"
    assert subprocess.check_output(command, text=True) == "free\n"
