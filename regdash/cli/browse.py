"""The dashboard's command, and its places as text."""

import shlex
from pathlib import Path

import click

from regdash.cli.options import Asked, CohortCommand, cohort_of, cut_option, filter_argument, store_option
from regdash.cli.place import to_read
from regdash.cli.printing import ASCII_ONLY, say

PLACES = ("register", "risk", "reasons", "compare", "implants", "units", "quality", "cuts", "sql")
THEMES = ("dark", "light")


@click.command(cls=CohortCommand)
@filter_argument
@store_option
@cut_option
@click.option(
    "--plain", type=click.Choice(PLACES), metavar="PLACE", help="Print what a place shows as text, and open nothing."
)
@click.option(
    "--ascii/--no-ascii",
    "ascii_only",
    default=None,
    help="Paint with ASCII signs alone, or not; else as TERM and the locale say.",
)
@click.option("--theme", type=click.Choice(THEMES), help="The background; else as the terminal says, or dark.")
def browse(
    words: tuple[str, ...],
    store: Path | None,
    cut: str | None,
    plain: str | None,
    ascii_only: bool | None,
    theme: str | None,
) -> None:
    """
    Open the dashboard, on a cohort if filter words are given.

    \b
      regdash browse class=partial
      regdash browse --plain risk class=partial

    NO_COLOR leaves out colours. After a dropped connection the next start offers the last place.
    """
    if plain is not None:
        _print(plain, words, store, cut, ascii_only)
        return
    from regdash import dashboard

    place = to_read(store)
    dashboard.run(place, cut, _expanded(place, words), ascii_only, theme)


def _expanded(store: Path, words: tuple[str, ...]) -> tuple[str, ...]:
    """Write the words of saved cohorts in the place of their names."""
    from regdash.cohort import NAME_SIGN, expanded

    if not any(word.startswith(NAME_SIGN) for word in words):
        return words
    from regdash.store.named_cohorts import named_cohorts

    return expanded(words, {name: saved.words for name, saved in named_cohorts(store).items()})


def _print(place: str, words: tuple[str, ...], store: Path | None, cut: str | None, ascii_only: bool | None) -> None:
    """Print a place by the commands that ask the same, each under its own name."""
    from regdash.cli.main import cli
    from regdash.dashboard import asked as questions
    from regdash.dashboard.plain import commands_of

    with Asked(store, cut, "text").desk() as desk:
        asked = questions.Asked(cohort_of(desk, words)).looking_at(desk.first_joint)
    within = click.get_current_context()
    within.meta[ASCII_ONLY] = ascii_only
    for name, *arguments in commands_of(place, asked):
        command = cli.get_command(within, name)
        assert command is not None
        say(f"regdash {shlex.join([name, *arguments])}")
        where = ["--store", str(to_read(store))]
        where += ["--cut", cut] if cut and _takes_cut(command, arguments) else []
        with command.make_context(name, [*arguments, *where], parent=within.parent) as context:
            command.invoke(context)


def _takes_cut(command: click.Command, arguments: list[str]) -> bool:
    """Whether a command reads a data cut, and not the store."""
    if isinstance(command, click.Group) and arguments:
        command = command.commands.get(arguments[0], command)
    return any(option.name == "cut" for option in command.params)
