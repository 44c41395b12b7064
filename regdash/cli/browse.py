"""The dashboard's command."""

from pathlib import Path

import click

from regdash.cli.options import CohortCommand, cut_option, filter_argument, store_option
from regdash.cli.place import to_read


@click.command(cls=CohortCommand)
@filter_argument
@store_option
@cut_option
def browse(words: tuple[str, ...], store: Path | None, cut: str | None) -> None:
    """
    Open the dashboard, on a cohort if filter words are given.

    \b
      regdash browse class=partial
    """
    from regdash import dashboard

    dashboard.run(to_read(store), cut, words)
