"""Every example in the help of a command that asks a cut is answered, on a register of all joints."""

import re
import shlex
from pathlib import Path

import pytest

from tests.cli.asking import regdash
from tests.cuts import make_cut, random_joints

ASKING = (
    *("describe", "activity", "revisions", "risk", "reasons", "rates", "mortality", "compare", "smooth", "gap"),
    *("implants", "screen", "implant", "units", "joints", "joint", "links", "signals"),
)
# What an example may be refused for: it names a code, a cut or a cohort that a small register lacks, or asks more than
# it can bear. Everything else, such as a word that there is not, is a fault of the example.
LACKING = (
    "There is no (?:implant|construct|joint|data cut|code|group|sender) |No cohort is named|tells of no|"
    "(?:hospital|surgeon|maker|implant|construct) has no value|has no revision|No joint|holds no|too few|fewer than"
)


@pytest.fixture(scope="module")
def everything(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A cut of knees, hips and shoulders."""
    return make_cut(tmp_path_factory.mktemp("every") / "store", random_joints(3000, joints=("knee", "hip", "shoulder")))


def examples() -> list[str]:
    """The examples, as they stand in the help."""
    pages = [regdash(command, "--help").stdout for command in ASKING]
    return [line.strip() for page in pages for line in page.splitlines() if re.match(r"^ +regdash \w", line)]


def test_there_is_an_example_for_every_command() -> None:
    assert {line.split()[1] for line in examples()} == set(ASKING)


def test_every_example_is_answered_or_lacks_what_it_names(everything: Path) -> None:
    for line in examples():
        if "signals history" in line:
            continue  # it reads operations, which this cut has none of
        said = regdash(*shlex.split(line)[1:], store=everything)
        assert said.code == 0 or re.search(LACKING, said.stderr), f"{line}: {said.stderr}"


def test_an_example_with_a_word_that_there_is_not_would_be_seen(everything: Path) -> None:
    said = regdash("risk", "--by", "femoral", store=everything)
    assert said.code == 1
    assert not re.search(LACKING, said.stderr)


@pytest.mark.parametrize("family", ["links", "quality", "cohorts", "signals", "requests"])
def test_what_a_command_does_is_said_in_a_whole_sentence(family: str) -> None:
    said = regdash(family, "--help").stdout.partition("Commands:\n")[2]
    assert said.strip()
    assert "..." not in said
