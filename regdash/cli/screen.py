"""Questions on signals: screen."""

from datetime import date

import click

from regdash.cli import words as completing
from regdash.cli.compare import NOTHING
from regdash.cli.options import (
    Asked,
    CohortCommand,
    Years,
    answering,
    by_of,
    cohort_of,
    filter_argument,
    reviews_option,
)
from regdash.cli.query import Words

KINDS = ("implants", "constructs", "sizes", "lots")  # as the report has them, which is loaded when it is asked for


@click.command(cls=CohortCommand)
@click.argument("what", type=click.Choice(KINDS))
@filter_argument
@click.option(
    "--adjust",
    metavar="FIELD[:WIDTH],...",
    shell_complete=completing.complete_by,
    help="Fields that are held alike, in bands or words; age,sex unless the settings say otherwise; none for none.",
)
@click.option(
    "--windows", type=Years(), help="Years since implantation at which windows end; else as the settings say."
)
@reviews_option
@answering
def screen(
    asked: Asked,
    what: str,
    words: Words,
    adjust: str | None,
    windows: tuple[float, ...] | None,
    reviews_as_of: date | None,
) -> None:
    """
    Screen implants, constructs, sizes or lots: which are revised more than a stated ratio allows?

    Thresholds are those of screening.toml in the store's folder, where it has one. A signal starts a review and
    shows no cause.

    \b
      regdash screen implants joint=knee class=total
      regdash screen constructs implanted=2015.. --adjust age,sex,asa --windows 1,5 --csv
    """
    held = None if adjust is None else () if adjust.strip().lower() in ("", NOTHING) else by_of(adjust)
    with asked.signals_desk() as desk:
        asked.show(desk.screen(what, cohort_of(desk, words), held, windows, reviews_as_of))
