"""The lock files hold everything that pyproject.toml asks for, once, with hashes."""

import re
import tomllib

import environment
import pytest

PIN = re.compile(r"^([a-z0-9][a-z0-9.-]*)==(\S+)(.*?)\\?$")


def pins(size: str) -> dict[str, str]:
    """Name and version of each locked package."""
    lines = environment.LOCKS[size].read_text(encoding="utf-8").splitlines()
    found = [match for line in lines if (match := PIN.match(line))]
    names = [match[1] for match in found]
    assert len(names) == len(set(names)), "one version of each, for every Python and platform"
    return {match[1]: match[2] for match in found}


def asked_for(*extras: str) -> set[str]:
    metadata = tomllib.loads((environment.ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    wanted = [*metadata["project"]["dependencies"], *metadata["dependency-groups"]["build"]]
    for extra in extras:
        wanted += metadata["project"]["optional-dependencies"][extra]
    return {re.split(r"[<>=!~ ;]", text, maxsplit=1)[0] for text in wanted}


def test_everything_asked_for_is_locked():
    assert asked_for() - set(pins("run")) == set()
    assert asked_for("test") - set(pins("test")) == set()


def test_the_checks_run_on_the_versions_that_the_program_runs_on():
    run, test = pins("run"), pins("test")
    assert {name: test.get(name) for name in run} == run


@pytest.mark.parametrize("size", ["run", "test"])
def test_every_package_has_hashes(size):
    blocks = re.split(r"^(?=[a-z0-9])", environment.LOCKS[size].read_text(encoding="utf-8"), flags=re.MULTILINE)
    locked = [block for block in blocks if PIN.match(block.splitlines()[0])]
    assert len(locked) == len(pins(size)) > 15
    assert all(re.search(r"--hash=sha256:[0-9a-f]{64}", block) for block in locked)
