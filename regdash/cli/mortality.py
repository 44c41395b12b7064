"""The command on mortality after the primary operation."""

from typing import Any

import click

from regdash.cli.options import (
    Asked,
    CohortCommand,
    Years,
    answering,
    beside_of,
    beside_option,
    by_of,
    by_option,
    cohort_of,
    filter_argument,
)

USUAL = (30, 90, 365)


class Days(click.ParamType):
    """Whole days since the operation, joined by commas."""

    name = "days"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> tuple[int, ...]:
        """Read 30,90,365."""
        parts = [part.strip() for part in str(value).split(",")]
        if not all(part.isascii() and part.isdecimal() for part in parts):
            self.fail(f"{value} does not say days. Write whole numbers, as in 30,90,365.", param, ctx)
        return tuple(map(int, parts))


@click.command(cls=CohortCommand)
@filter_argument
@by_option
@click.option("--days", type=Days(), help="Days since the operation; 30,90,365 if neither these nor years are given.")
@click.option("--years", type=Years(), help="Years since the operation too, or alone, as in 1,5,10.")
@beside_option
@answering
def mortality(
    asked: Asked,
    words: tuple[str, ...],
    by: str,
    days: tuple[int, ...] | None,
    years: tuple[float, ...] | None,
    beside: str | None,
) -> None:
    """
    Estimate mortality after the primary operation, by group and day.

    An operation is what a patient had done on one day, the day of a death counting; follow-up goes on past revisions,
    to the date through which deaths are known. Mortality after a revision is not told.

    \b
      regdash mortality joint=hip --by class,age
      regdash mortality joint=knee --days 0,30,90 --by asa
      regdash mortality joint=knee --years 1,5,10 --by age,sex
      regdash mortality joint=hip diagnosis=femoral-neck-fracture --beside "joint=hip diagnosis!=femoral-neck-fracture"
    """
    import regdash.output.mortality_pages  # noqa: F401 - makes the answer known to pages and records
    from regdash.stats.years import days_in

    times = (*(days or ()), *map(days_in, years or ()))
    with asked.desk() as desk:
        cohort, second = cohort_of(desk, words), beside_of(desk, beside)
        asked.show(desk.mortality(cohort, by_of(by), times or USUAL, beside=second))
