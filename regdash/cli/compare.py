"""Questions between groups: compare, gap."""

import click

from regdash.cli import words as completing
from regdash.cli.options import (
    Asked,
    EndpointCommand,
    Year,
    Years,
    answering,
    by_of,
    by_option,
    cohort_of,
    endpoint_option,
    filter_argument,
    reference_option,
)
from regdash.cli.query import VIEWS, Words

NOTHING = "none"
CLUSTERS = ("patient", "surgeon", "hospital")  # as the report has them, which is loaded when it is asked for


@click.command(cls=EndpointCommand)
@filter_argument
@by_option
@click.option(
    "--adjust",
    default="age,sex",
    show_default=True,
    metavar="FIELD[:WIDTH],...",
    shell_complete=completing.complete_by,
    help="Fields that are held alike, in bands or words; none for a crude comparison.",
)
@click.option(
    "--windows", type=Years(), help="Give ratios by time since implantation too: years where it is cut, as in 1,5."
)
@reference_option
@click.option("--firth", is_flag=True, help="Firth's penalty: finite ratios where a group has no revisions.")
@click.option(
    "--robust",
    type=click.Choice(CLUSTERS),
    help="Limits and tests that hold though joints of one patient, surgeon or hospital resemble each other.",
)
@endpoint_option
@answering
def compare(
    asked: Asked,
    words: Words,
    by: str,
    adjust: str,
    windows: tuple[float, ...] | None,
    reference: str | None,
    firth: bool,
    robust: str | None,
    endpoint: str,
) -> None:
    """
    Compare groups like for like: adjusted hazard ratios, log-rank and Gray's tests.

    \b
      regdash compare joint=knee --by class --adjust age,sex,asa --windows 1,5
      regdash compare class=partial --by bearing --reference fixed
      regdash compare joint=knee --by fixation --robust hospital
    """
    _refuse_no_groups("compare", by)
    held = () if adjust.strip().lower() in ("", NOTHING) else by_of(adjust)
    with asked.desk() as desk:
        cohort = cohort_of(desk, words)
        asked.show(desk.compare(cohort, by_of(by), held, windows or (), reference, firth, endpoint, robust))


@click.command(cls=EndpointCommand)
@filter_argument
@by_option
@click.option("--years", "year", type=Year(), default="10", show_default=True, help="Time since implantation.")
@click.option(
    "--view",
    type=click.Choice(VIEWS),
    default=VIEWS[0],
    show_default=True,
    help="implant: deaths censored; patient: death competes.",
)
@click.option("--detail", is_flag=True, help="Reasons as surgeons record them, not in groups.")
@reference_option
@endpoint_option
@answering
def gap(
    asked: Asked, words: Words, by: str, year: float, view: str, detail: bool, reference: str | None, endpoint: str
) -> None:
    """
    Split the difference in risk between two groups into the reasons that add up to it.

    \b
      regdash gap joint=knee --by class --years 15
      regdash gap class=partial bearing=fixed,mobile --by bearing --view patient
    """
    _refuse_no_groups("gap", by)
    with asked.desk() as desk:
        asked.show(desk.gap(cohort_of(desk, words), by_of(by), year, view, detail, reference, endpoint))


def _refuse_no_groups(command: str, by: str) -> None:
    if not by.strip(" ,"):
        raise click.UsageError(f"{command} is between groups, so it needs --by, as in --by class")
