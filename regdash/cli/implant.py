"""Everything on one implant: its figures beside all others of its class, and where they come from."""

from datetime import date

import click

from regdash.cli import words as completing
from regdash.cli.compare import NOTHING
from regdash.cli.options import (
    Asked,
    CohortCommand,
    Year,
    Years,
    answering,
    by_of,
    cohort_of,
    filter_argument,
    reviews_option,
)
from regdash.cli.query import Words

# As the page has them, which is loaded when it is asked for.
SECTIONS = (
    *("windows", "excess", "falls", "hospitals", "surgeons", "subgroups", "alike", "companions", "first-revisions"),
    "nearby",
)


@click.command(cls=CohortCommand)
@click.argument("code", shell_complete=completing.complete_implant)
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
@click.option("--years", type=Years(), default="1,5,10,15", show_default=True, help="Years of its risk.")
@click.option("--reason-years", type=Year(), default="10", show_default=True, help="By which its reasons are counted.")
@click.option("--section", type=click.Choice(SECTIONS), help="One part alone; with --csv its rows.")
@reviews_option
@answering
def implant(
    asked: Asked,
    code: str,
    words: Words,
    adjust: str | None,
    windows: tuple[float, ...] | None,
    years: tuple[float, ...],
    reason_years: float,
    section: str | None,
    reviews_as_of: date | None,
) -> None:
    """
    Tell everything about one implant or construct: its figures beside its class, and where they come from.

    Excess revisions by reason, what was done at first revisions, subgroups, users and the ratio without each,
    companions, and faults of data nearby. Nothing of it shows a cause.

    \b
      regdash implant KT-017 age=..64
      regdash implant KF-017/KT-017 --adjust age,sex,asa
      regdash implant KT-017 --section surgeons --csv
    """
    from regdash.output.explained_pages import ExplainedPart, ImplantPage

    held = None if adjust is None else () if adjust.strip().lower() in ("", NOTHING) else by_of(adjust)
    with asked.signals_desk() as desk:
        cohort = cohort_of(desk, words)
        explained = desk.explained(code, cohort, held, windows, reviews_as_of)
        if section is not None:
            asked.show(ExplainedPart(explained, section))
        else:
            asked.show(ImplantPage(desk.implant(code, cohort, years, reason_years), explained))
