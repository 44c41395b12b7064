"""
The project's own Python environment, `.venv`: made with locked versions, kept, and made again when they change.

It runs before anything is installed, so it uses the standard library alone. `.venv` comes in two sizes:
"run" is what the program needs, "test" adds what the checks need. A stamp for each says what is in it.
"""

import errno
import fcntl
import hashlib
import importlib.util
import json
import os
import re
import shutil
import subprocess
import sys
import tomllib
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
VENV = ROOT / ".venv"
LOCKS = {
    "run": ROOT / "scripts" / "requirements.lock",
    "test": ROOT / "scripts" / "requirements-test.lock",
}
SPACE_MB = {"run": 1000, "test": 1600}  # installed, and pip's downloads while it works

_UNFINISHED = "unfinished"
_FULL = (errno.ENOSPC, errno.EDQUOT)
_FULL_WORDS = ("No space left on device", "Disk quota exceeded")


class SetupError(Exception):
    """What stands in the way, in one sentence, and what to do."""


def say(text: str) -> None:
    """Tell what is being done, on standard error: standard output belongs to the program."""
    print(text, file=sys.stderr, flush=True)


def python() -> Path:
    """Where the environment's Python is, once it is there."""
    return VENV / "bin" / "python"


def stamp(size: str) -> Path:
    """The file that says what was installed; its absence, that nothing was."""
    return VENV / f"installed-{size}"


def fingerprint(size: str) -> str:
    """Everything that decides what `.venv` must hold: the lock, the package's metadata, this Python, this folder."""
    metadata = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    decides = [
        LOCKS[size].read_text(encoding="utf-8"),
        {part: metadata[part] for part in ("build-system", "project")},
        list(sys.version_info[:2]),
        str(ROOT),
    ]
    return hashlib.sha256(json.dumps(decides, sort_keys=True).encode()).hexdigest()


def installed(size: str) -> bool:
    """Whether a set-up of this size was finished and still fits."""
    kept = stamp(size)
    return python().exists() and kept.is_file() and kept.read_text(encoding="utf-8") == fingerprint(size)


def ready(size: str) -> bool:
    """Whether nothing need be done: "test" holds all that "run" does."""
    return installed("test") or installed(size)


def prepare(size: str) -> None:
    """
    Make `.venv` hold what `size` needs; return at once if it does already.

    Raises:
        SetupError: venv or pip cannot do it, the disk is full, or `.venv` is somebody else's.
    """
    if ready(size):
        return
    with _alone():
        if ready(size):  # another set-up finished while this one waited
            return
        _check_modules()
        _check_space(size)
        if not _may_build_on(size):
            _make_venv(size)
        _install(size)


def _may_build_on(size: str) -> bool:
    """Whether a good "run" is there and "test" was never begun; after an interruption, start afresh."""
    return size == "test" and installed("run") and not stamp("test").exists()


@contextmanager
def _alone() -> Iterator[None]:
    """Hold off other set-ups of this checkout; the lock ends with the process, however it ends."""
    with (ROOT / "pyproject.toml").open() as held:
        try:
            fcntl.flock(held, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            say("Waiting for another set-up of this checkout to finish ...")
            fcntl.flock(held, fcntl.LOCK_EX)
        yield


def _check_modules() -> None:
    missing = [name for name in ("venv", "ensurepip") if importlib.util.find_spec(name) is None]
    if missing:
        version = f"{sys.version_info[0]}.{sys.version_info[1]}"
        raise SetupError(
            f"This Python {version} has no {' and no '.join(missing)} module, which making .venv needs. "
            f"On Debian and Ubuntu: apt install python{version}-venv"
        )


def _check_space(size: str) -> None:
    free = shutil.disk_usage(ROOT).free // 1_000_000
    if free < SPACE_MB[size]:
        raise SetupError(
            f"The disk is full: {ROOT} has {free:,} MB free and .venv needs about {SPACE_MB[size]:,} MB. "
            "Free some space and run this again."
        )


def _make_venv(size: str) -> None:
    """Make an empty environment, in place of an old or half-made one of ours."""
    if VENV.exists() and any(VENV.iterdir()):
        if not any(stamp(known).exists() for known in LOCKS):
            raise SetupError(f"{VENV} was made by something else. Move or remove it, and run this again.")
        say("Making .venv again: it was not finished, or something it depends on has changed ...")
        _remove_venv()
    else:
        say(f"Making .venv with Python {sys.version.split()[0]} ...")
    VENV.mkdir(exist_ok=True)
    stamp(size).write_text(_UNFINISHED, encoding="utf-8")
    _run([_base_python(), "-m", "venv", str(VENV)], "Python's venv could not make .venv")


def _remove_venv() -> None:
    """Remove all but the stamps first: cut short, what is left is still known as ours."""
    keep = {stamp(size) for size in LOCKS}
    for kept in keep:
        if kept.exists():
            kept.write_text(_UNFINISHED, encoding="utf-8")
    for path in VENV.iterdir():
        if path in keep:
            continue
        if path.is_dir() and not path.is_symlink():
            shutil.rmtree(path)
        else:
            path.unlink()
    for kept in keep:
        kept.unlink(missing_ok=True)


def _base_python() -> str:
    """The Python behind the one that runs this, which may itself live in an environment."""
    return str(getattr(sys, "_base_executable", None) or sys.executable)


def _install(size: str) -> None:
    """Install the locked packages, then the project itself from this checkout; the stamp comes last."""
    stamp(size).write_text(_UNFINISHED, encoding="utf-8")
    lock, pip = LOCKS[size], [str(python()), "-m", "pip", "install", "--disable-pip-version-check", "--no-input"]
    packages = sum(line[:1].isalnum() for line in lock.read_text(encoding="utf-8").splitlines())
    say(f"Installing {packages} packages as {lock.relative_to(ROOT)} says; the first time takes a minute or two ...")
    locked = ["--require-hashes", "--only-binary", ":all:", "--no-deps", "--progress-bar", "off", "-r", str(lock)]
    _run([*pip, *locked], "pip could not install the locked packages", _counter(packages))
    say("Installing regdash from this checkout ...")
    here = ["--no-build-isolation", "--no-deps", "--editable", str(ROOT)]
    _run([*pip, *here], "pip could not install regdash")
    stamp(size).write_text(fingerprint(size), encoding="utf-8")


def _counter(total: int) -> Callable[[str], None]:
    """Count packages as pip comes to them, on one line of a terminal; a log gets no such line."""
    done = 0

    def count(line: str) -> None:
        nonlocal done
        if not sys.stderr.isatty():
            return
        if line.startswith(("Collecting ", "Requirement already satisfied: ")):
            done += 1
            sys.stderr.write(f"\r\x1b[K  {done} of {total}  {line.split()[1 if line[0] == 'C' else 3][:50]}")
        elif line.startswith("Installing collected packages"):
            sys.stderr.write("\r\x1b[K  all there; unpacking ...")
        elif line.startswith(("Successfully installed", "ERROR")):
            sys.stderr.write("\r\x1b[K")
        sys.stderr.flush()

    return count


def _run(command: list[str], trouble: str, each_line: Callable[[str], None] = lambda line: None) -> None:
    """Run a command, keep what it prints in .venv/setup.log, and turn a failure into one sentence."""
    said: list[str] = []
    log = VENV / "setup.log"
    with (
        log.open("a", encoding="utf-8") as kept,
        subprocess.Popen(command, text=True, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, cwd=ROOT) as process,
    ):
        try:
            for line in process.stdout or ():
                kept.write(line)
                said.append(line)
                each_line(line)
        except BaseException:  # an interruption too: nothing may go on writing into .venv
            process.kill()
            raise
    if process.returncode:
        if any(words in line for line in said for words in _FULL_WORDS):
            raise SetupError(disk_is_full(f"{trouble}."))
        raise SetupError(f"{trouble}: {_last_word(said)} (all it printed: {log})")


def _last_word(said: list[str]) -> str:
    """The line that says what went wrong: the last that names an error, else the last of all."""
    lines = [line.strip() for line in said if line.strip()]
    errors = [line.removeprefix("ERROR: ") for line in lines if re.match(r"ERROR: |[\w.]+Error: ", line)]
    return (errors or lines or ["it said nothing."])[-1]


def disk_is_full(where: str) -> str:
    """Say that the disk is full, and what to do."""
    return f"The disk is full. {where} Free some space (about {SPACE_MB['test']:,} MB) and run this again."


def one_line(main: Callable[[], None]) -> None:
    """Run a script's main function; what a person can mend leaves as one line, a bug as its traceback."""
    try:
        main()
    except SetupError as error:
        sys.exit(str(error))
    except KeyboardInterrupt:
        say("\nInterrupted. Run the same command again to go on.")
        sys.exit(130)
    except OSError as error:
        if error.errno not in _FULL:
            raise
        sys.exit(disk_is_full(f"{error.filename or ROOT} could not be written."))


def environ() -> dict[str, str]:
    """The environment for what runs in `.venv`: its programs first on the path."""
    return os.environ | {"VIRTUAL_ENV": str(VENV), "PATH": f"{VENV / 'bin'}{os.pathsep}{os.environ.get('PATH', '')}"}
