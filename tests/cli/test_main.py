"""The list of commands, and their help."""

import click
import pytest

from regdash import __version__, fields
from regdash.cli.main import COMMANDS, cli
from tests.cli.asking import regdash

# What scripts and readers of the documentation rely on.
PROMISED = (
    "demo receive held rules return-files corrections links quality freeze cuts changes dictionary audit backup restore"
    " new-key cohorts browse describe activity revisions risk reasons rates mortality compare smooth gap"
    " implants screen signals implant units joints joint summary extract requests evidence verify sql completion"
)


def command(name: str) -> click.Command:
    found = cli.get_command(click.Context(cli), name)
    assert found is not None
    return found


def test_every_promised_command_is_there():
    assert set(COMMANDS) == set(PROMISED.split())


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_and_option_says_what_it_does(name):
    said = regdash(name, "--help")
    assert (said.code, said.stderr) == (0, "")
    assert command(name).help
    options = [param for param in command(name).params if isinstance(param, click.Option)]
    assert [option.name for option in options if not option.help] == []


@pytest.mark.parametrize(
    "name", ["describe", "risk", "reasons", "rates", "implant", "implants", "screen", "joints", "joint", "sql"]
)
def test_every_question_takes_the_common_options(name):
    options = {text for param in command(name).params for text in param.opts}
    assert {"--store", "--cut", "--json", "--csv"} <= options


def test_the_overview_lists_every_command_with_its_sentence():
    page = regdash("--help").stdout
    assert all(f"  {name} " in page and sentence in page for name, (_, sentence) in COMMANDS.items())


def test_without_a_command_the_overview_is_shown_as_wrong_usage():
    said = regdash()
    assert (said.code, said.stdout) == (2, "")
    assert "Commands:" in said.stderr


@pytest.mark.parametrize(
    "name", ["describe", "risk", "reasons", "rates", "implant", "implants", "screen", "joints", "browse"]
)
def test_help_lists_the_filter_words_that_the_command_accepts(name):
    page = regdash(name, "--help").stdout
    for field in fields.FIELDS.values():
        assert (f"\n  {field.example} " in page) == (not field.outcome or name == "joints")


def test_the_version_is_the_packages():
    assert regdash("--version").stdout == f"regdash {__version__}\n"
