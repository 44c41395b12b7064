"""How the hazard goes along a field of numbers: smooth."""

import click

from regdash.cli import words as completing
from regdash.cli.compare import CLUSTERS, NOTHING
from regdash.cli.options import (
    Asked,
    EndpointCommand,
    answering,
    by_of,
    cohort_of,
    endpoint_option,
    filter_argument,
)
from regdash.cli.query import Words


class Values(click.ParamType):
    """Values of a field of numbers, joined by commas."""

    name = "values"

    def convert(self, value: object, param: click.Parameter | None, ctx: click.Context | None) -> tuple[float, ...]:
        """Read 10,20,50."""
        try:
            return tuple(float(part) for part in str(value).split(","))
        except ValueError:
            self.fail(f"{value} does not say values. Write numbers, as in 10,20,50.", param, ctx)


@click.command(cls=EndpointCommand)
@filter_argument
@click.option(
    "--over",
    default="volume",
    show_default=True,
    metavar="FIELD",
    shell_complete=completing.complete_measured,
    help="The field of numbers along which the curve runs: volume, age or bmi.",
)
@click.option(
    "--adjust",
    default="age,sex",
    show_default=True,
    metavar="FIELD[:WIDTH],...",
    shell_complete=completing.complete_by,
    help="Fields that are held alike, in bands or words; none for a crude curve.",
)
@click.option("--reference", type=float, metavar="VALUE", help="The value of ratio 1; the median if left out.")
@click.option("--knots", type=click.IntRange(3, 5), help="Knots of the curve; 4 if left out, 3 where 4 cannot stand.")
@click.option("--at", type=Values(), metavar="VALUE,...", help="Values to give ratios at; round ones if left out.")
@click.option(
    "--robust",
    type=click.Choice((*CLUSTERS, NOTHING)),
    help="Whose joints may resemble each other; surgeon for volume if left out, else none.",
)
@endpoint_option
@answering
def smooth(
    asked: Asked,
    words: Words,
    over: str,
    adjust: str,
    reference: float | None,
    knots: int | None,
    at: tuple[float, ...] | None,
    robust: str | None,
    endpoint: str,
) -> None:
    """
    Give the hazard of revision along a field of numbers as a curve: ratios to one value, with pointwise limits.

    \b
      regdash smooth joint=knee class=partial --over volume
      regdash smooth joint=knee class=total --over age --reference 65 --adjust sex
      regdash smooth joint=hip class=total --over bmi --at 20,25,30,35,40
    """
    import regdash.output.smooth_pages  # noqa: F401 - makes its forms known

    held = () if adjust.strip().lower() in ("", NOTHING) else by_of(adjust)
    with asked.desk() as desk:
        cohort = cohort_of(desk, words)
        asked.show(desk.smooth(cohort, over, held, reference, knots, at or (), endpoint, robust))
