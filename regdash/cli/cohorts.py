"""The commands on cohorts that have a name: which there are, saving and removing them, as text in and out."""

from pathlib import Path
from typing import TYPE_CHECKING, TextIO

import click

from regdash.cli import words as completing
from regdash.cli.family import Family
from regdash.cli.options import Asked, CohortCommand, asking, cohort_of, filter_argument, form_options, store_option
from regdash.cli.place import existing
from regdash.cli.printing import Form, emit, say, show

if TYPE_CHECKING:
    from collections.abc import Iterable

    from regdash.output.listing import Listing
    from regdash.store.named_cohorts import NamedCohort

USE = "@ before a name stands for its words wherever a filter is read."
NONE = "Nobody has saved any."
note_option = click.option("--note", default="", metavar="TEXT", help="What it is for.")


@click.group(cls=Family)
def cohorts() -> None:
    """
    Give filter words a name. The name, with @ before it, then stands for them wherever a filter is read.

    \b
      regdash cohorts save young-men joint=knee age=..54 sex=male
      regdash risk @young-men --by class
      regdash cohorts list --lines > cohorts.txt
      regdash cohorts save --from cohorts.txt
    """


@cohorts.command("list")
@click.option("--lines", is_flag=True, help="One line a cohort, name: words, as `save --from` reads them.")
@click.option("--history", is_flag=True, help="Every line ever written, superseded and removed ones too.")
@store_option
@form_options
def list_cohorts(lines: bool, history: bool, store: Path | None, form: Form) -> None:
    """
    List the cohorts that have a name, with who saved them and when.

    \b
      regdash cohorts list
      regdash cohorts list --history --json
    """
    from regdash.store.named_cohorts import as_lines, cohort_lines, named_cohorts

    place = existing(store)
    if lines:
        if history or form != "text":
            raise click.UsageError("--lines is a form of its own: leave out --history, --json and --csv")
        emit(as_lines(named_cohorts(place).values()), "utf-8")
        return
    show(_listing(cohort_lines(place) if history else named_cohorts(place).values()), form)


@cohorts.command("save", cls=CohortCommand)
@click.argument("name", required=False, shell_complete=completing.complete_name)
@filter_argument
@click.option(
    "--from", "file", type=click.File(encoding="utf-8"), metavar="FILE", help="Lines of name: words; - reads input."
)
@note_option
@asking
def save_cohort(asked: Asked, name: str | None, words: tuple[str, ...], file: TextIO | None, note: str) -> None:
    """
    Give filter words a name; what had it before is superseded. With --from all cohorts of a file are saved, or none.

    \b
      regdash cohorts save young-men joint=knee age=..54 sex=male --note "asked for each spring"
      regdash cohorts save --from cohorts.txt
    """
    from regdash.errors import FilterError
    from regdash.store.named_cohorts import checked_name, save_and_tell

    if (name is None) == (file is None):
        raise click.UsageError("Say NAME and filter words, or --from FILE")
    if name is not None and not words:
        raise click.UsageError(f"Say which joints {name} stands for, as in: regdash cohorts save {name} class=partial")
    wanted = _read(file) if file else {checked_name(name or ""): words}
    with asked.desk() as desk:
        read = {}
        for one, its_words in wanted.items():
            try:
                read[one] = str(cohort_of(desk, its_words))
            except FilterError as fault:
                raise FilterError(f"{one}: {fault}" if file else str(fault)) from None
    saved = save_and_tell(existing(asked.store), read, note)
    asked.show(_listing(saved))


def _read(file: TextIO) -> dict[str, tuple[str, ...]]:
    from regdash import cohort
    from regdash.errors import InputError
    from regdash.store.named_cohorts import read_lines

    try:
        text = file.read()
    except UnicodeDecodeError:
        raise InputError(f"{file.name} is not text in UTF-8.") from None
    return {name: cohort.split(words) for name, words in read_lines(text).items()}


@cohorts.command("remove")
@click.argument("name", shell_complete=completing.complete_name)
@note_option
@store_option
def remove_cohort(name: str, note: str, store: Path | None) -> None:
    """
    Take a name away. Its lines stay in the history.

    \b
      regdash cohorts remove young-men
    """
    from regdash.store.named_cohorts import remove_and_tell

    gone = remove_and_tell(existing(store), name, note)
    say(f"@{gone.name} is removed. It stood for: {gone.words}")


def _listing(found: "Iterable[NamedCohort]") -> "Listing":
    from dataclasses import fields

    from regdash.output.listing import Listing
    from regdash.store.named_cohorts import NamedCohort

    columns = ("name", "words", "note", "saved_by", "saved_at", "removed", "number", "account")
    assert set(columns) == {field.name for field in fields(NamedCohort)}
    rows = [tuple(getattr(one, column) for column in columns) for one in found]
    remarks = (USE if rows else NONE,)
    return Listing("named cohorts", columns, rows, remarks=remarks, wraps=("words", "note"))
