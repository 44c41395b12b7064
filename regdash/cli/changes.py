"""What moved between two data cuts, and why."""

from pathlib import Path

import click

from regdash.cli import words as completing
from regdash.cli.options import (
    Asked,
    CohortCommand,
    Years,
    by_of,
    by_option,
    cohort_of,
    filter_argument,
    form_options,
    store_option,
    withhold_option,
)
from regdash.cli.printing import Form


@click.command(cls=CohortCommand)
@click.argument("earlier", metavar="CUT1", shell_complete=completing.complete_cut)
@click.argument("later", metavar="CUT2", shell_complete=completing.complete_cut)
@filter_argument
@by_option
@click.option("--years", type=Years(), default="1,5,10", show_default=True, help="Times of the risks.")
@withhold_option
@store_option
@form_options
def changes(
    earlier: str,
    later: str,
    words: tuple[str, ...],
    by: str,
    years: tuple[float, ...],
    store: Path | None,
    form: Form,
    withhold_counts_under: int | None,
) -> None:
    """
    Split what moved between two data cuts into new and late events, corrections, links and definitions.

    \b
      regdash changes 2023-12-31 2024-12-31 joint=hip --by hospital
    """
    import regdash.output.changes_pages  # noqa: F401  makes the answer known to show

    asked = Asked(store, later, form, withhold_counts_under)
    with asked.desk() as desk:
        asked.show(desk.changes(earlier, cohort_of(desk, words), by_of(by), years))
