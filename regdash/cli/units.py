"""The command on hospitals and surgeons: what each does, or one of them beside all others."""

import click

from regdash.cli.options import Asked, EndpointCommand, Years, answering, cohort_of, endpoint_option, filter_argument
from regdash.cli.query import VIEWS
from regdash.cli.words import complete_unit

KINDS = ("hospitals", "surgeons")


@click.command(cls=EndpointCommand)
@click.argument("kind", type=click.Choice(KINDS), metavar="hospitals|surgeons")
@filter_argument
@click.option(
    "--years", type=Years(), help="Time since implantation; 10 if left out, and with --code may be several: 1,5,10,15."
)
@click.option("--view", type=click.Choice(VIEWS), default="implant", show_default=True, help="As of risk.")
@click.option(
    "--code", metavar="CODE", shell_complete=complete_unit, help="One of them beside all others: its risk of revision."
)
@endpoint_option
@answering
def units(
    asked: Asked,
    kind: str,
    words: tuple[str, ...],
    years: tuple[float, ...] | None,
    view: str,
    code: str | None,
    endpoint: str,
) -> None:
    """
    List hospitals or surgeons: joints, risk of revision, volume.

    \b
      regdash units hospitals joint=knee --years 5
      regdash units surgeons class=partial --csv
      regdash units hospitals joint=knee --code H012 --years 1,5,10
    """
    import regdash.output.units_pages  # noqa: F401 - makes the answer known to pages and records

    if code is None and years is not None and len(years) > 1:
        raise click.UsageError("Units are listed with their risk at one time; write --years 10, or name one by --code")
    with asked.desk() as desk:
        cohort = cohort_of(desk, words)
        if code is None:
            asked.show(desk.profiles(kind, cohort, years[0] if years else 10.0, view, endpoint))
        else:
            asked.show(desk.unit_risk(kind, code, cohort, years or (1.0, 5.0, 10.0, 15.0), view, endpoint))
