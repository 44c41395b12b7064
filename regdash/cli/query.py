"""Questions about joints: describe, risk, reasons, rates, implants, joints, joint."""

import click

from regdash.cli import words as completing
from regdash.cli.options import (
    Asked,
    CalendarYears,
    CohortCommand,
    EndpointCommand,
    JointsCommand,
    MissingFrom,
    Percent,
    Year,
    Years,
    answering,
    beside_of,
    beside_option,
    by_of,
    by_option,
    cohort_of,
    endpoint_option,
    filter_argument,
    reference_option,
)

VIEWS = ("implant", "patient")
SHOWN = 50  # joints that a person sees at once

Words = tuple[str, ...]


@click.command(cls=CohortCommand)
@filter_argument
@by_option
@answering
def describe(asked: Asked, words: Words, by: str) -> None:
    """
    Say who the joints of a cohort are: counts, age, sex, follow-up.

    \b
      regdash describe class=partial --by sex,age:10
    """
    with asked.desk() as desk:
        asked.show(desk.describe(cohort_of(desk, words), by_of(by)))


@click.command(cls=EndpointCommand)
@filter_argument
@by_option
@click.option("--years", type=Years(), default="1,5,10,15", show_default=True, help="Times since implantation.")
@click.option(
    "--view",
    type=click.Choice(VIEWS),
    help="implant: net risk, deaths censored (the default); patient: cumulative incidence, death competes.",
)
@click.option(
    "--reason",
    metavar="REASON",
    shell_complete=completing.complete_reason,
    help="Risk of revision for one reason, by group or in detail; implies --view patient.",
)
@endpoint_option
@click.option("--difference", is_flag=True, help="Give each group's risk less that of the reference too.")
@reference_option
@click.option(
    "--given-unrevised",
    type=Year(),
    metavar="YEARS",
    help="Risk of the joints that are still followed and unrevised after so many years.",
)
@click.option(
    "--standardise",
    default="",
    metavar="FIELD[:WIDTH],...",
    shell_complete=completing.complete_by,
    help="Give every group the cohort's own mix of these fields, as in age,sex.",
)
@click.option(
    "--ceiling",
    type=Percent(most=100),
    metavar="PERCENT",
    help="Is each risk below this: met, not met, cannot say yet.",
)
@click.option(
    "--margin",
    type=Percent(),
    metavar="PERCENT",
    help="Is each risk at most so much above the reference's; 20 allows a fifth more.",
)
@click.option(
    "--at-least",
    type=click.IntRange(min=1),
    metavar="JOINTS",
    help="Joints at risk without which no verdict is given; 500 if left out.",
)
@click.option(
    "--cluster",
    type=click.Choice(("patient",)),
    help="Limits that hold although both joints of a patient may be here, and be alike.",
)
@beside_option
@click.option(
    "--missing-revisions",
    type=Percent(most=100),
    metavar="PERCENT",
    help="Each risk too if so much of all true revisions had never been reported.",
)
@click.option(
    "--missing-from",
    type=MissingFrom(),
    default="all",
    show_default=True,
    metavar="all|worst:N",
    help="From where: at random, or all from the N hospitals with the fewest revisions per implant-year.",
)
@answering
def risk(
    asked: Asked,
    words: Words,
    by: str,
    years: tuple[float, ...],
    view: str | None,
    reason: str | None,
    endpoint: str,
    difference: bool,
    reference: str | None,
    given_unrevised: float | None,
    standardise: str,
    ceiling: float | None,
    margin: float | None,
    at_least: int | None,
    cluster: str | None,
    beside: str | None,
    missing_revisions: float | None,
    missing_from: int | None,
) -> None:
    """
    Estimate the risk of revision by group and year.

    \b
      regdash risk joint=knee class=partial --by bearing --years 1,5,10,15
      regdash risk age=50..59 --by class --reason infection --json
      regdash risk class=partial --by bearing --endpoint without-bearing-exchange
      regdash risk --by class --years 10 --difference --standardise age,sex
      regdash risk joint=knee class=partial --by construct --years 10 --ceiling 20 --at-least 50
      regdash risk joint=knee --by class --years 10 --margin 20 --reference total
      regdash risk --by class --years 10 --difference --cluster patient
      regdash risk --by class --missing-revisions 5 --missing-from worst:3
      regdash risk @young-men class=partial --beside "@young-men class=total"
    """
    if reason and view == "implant":
        raise click.UsageError("One reason competes with all others, so --reason goes with --view patient")
    if reference and not difference and margin is None:
        raise click.UsageError(
            "--reference says what groups are compared with, so it goes with --difference or --margin"
        )
    if missing_from is not None and missing_revisions is None:
        raise click.UsageError("--missing-from says where revisions are missing, so it goes with --missing-revisions")
    if at_least is not None and ceiling is None and margin is None:
        raise click.UsageError("--at-least is asked of verdicts, so it goes with --ceiling or --margin")
    with asked.desk() as desk:
        report = desk.risk(
            cohort_of(desk, words),
            by_of(by),
            years,
            view or "implant",
            reason,
            endpoint,
            difference=difference,
            reference=reference,
            given_unrevised=given_unrevised,
            standardise=by_of(standardise),
            ceiling=ceiling,
            margin=margin,
            cluster=cluster,
            missing=missing_revisions,
            missing_from_worst=missing_from,
            beside=beside_of(desk, beside),
            **({} if at_least is None else {"at_least": at_least}),
        )
        asked.show(report)


@click.command(cls=EndpointCommand)
@filter_argument
@by_option
@click.option("--years", "year", type=Year(), default="10", show_default=True, help="Time since implantation.")
@click.option("--detail", is_flag=True, help="Reasons as surgeons record them, not in groups.")
@endpoint_option
@beside_option
@answering
def reasons(asked: Asked, words: Words, by: str, year: float, detail: bool, endpoint: str, beside: str | None) -> None:
    """
    Say why joints are revised: counts, and each reason's cumulative incidence.

    \b
      regdash reasons class=partial --by bearing --years 10
    """
    with asked.desk() as desk:
        asked.show(
            desk.reasons(cohort_of(desk, words), by_of(by), year, detail, endpoint, beside=beside_of(desk, beside))
        )


@click.command(cls=EndpointCommand)
@filter_argument
@by_option
@click.option("--windows", type=Years(), help="Cut time since implantation after so many years, as in 1,5.")
@click.option(
    "--calendar", type=CalendarYears(), metavar="YEARS", help="Cut the calendar where these begin, as in 2010,2015."
)
@endpoint_option
@answering
def rates(
    asked: Asked,
    words: Words,
    by: str,
    windows: tuple[float, ...] | None,
    calendar: tuple[int, ...] | None,
    endpoint: str,
) -> None:
    """
    Give revisions per 100 implant-years, with exact limits.

    \b
      regdash rates class=total --by hospital --csv
      regdash rates --by class --windows 1,5 --calendar 2015
    """
    with asked.desk() as desk:
        asked.show(desk.rates(cohort_of(desk, words), by_of(by), endpoint, windows or (), calendar or ()))


@click.command(cls=CohortCommand)
@filter_argument
@answering
def implants(asked: Asked, words: Words) -> None:
    """
    Compare each implant with all others of its class, the most striking first.

    \b
      regdash implants class=total implanted=2015..
    """
    with asked.desk() as desk:
        asked.show(desk.implants(cohort_of(desk, words)))


@click.command(cls=JointsCommand)
@click.argument("words", nargs=-1, metavar="[FILTER]...", shell_complete=completing.complete_joint_filter)
@click.option("--limit", type=click.IntRange(min=0), help=f"Joints at most; {SHOWN} for people, else all.")
@click.option("--offset", type=click.IntRange(min=0), default=0, help="Joints to leave out at the beginning.")
@click.option("--order", default="implanted_date", show_default=True, help="Column to order by; -COLUMN falls.")
@answering
def joints(asked: Asked, words: Words, limit: int | None, offset: int, order: str) -> None:
    """
    List the joints themselves. Words about what happened later are allowed here.

    \b
      regdash joints ended=revised reason=infection --order -followed_years
    """
    if limit is None and asked.form == "text":
        limit = SHOWN
    with asked.desk() as desk:
        report = desk.joints(cohort_of(desk, words, outcomes=True), offset, limit, order)
        asked.note_export("joints", report.head.cut, len(report.rows), filter=" ".join(words))
        asked.show(report)


@click.command()
@click.argument("joint_id", metavar="ID")
@answering
def joint(asked: Asked, joint_id: str) -> None:
    """
    Tell one joint's life: what went in, what came after, how it ended.

    \b
      regdash joint P123456789-KL
    """
    with asked.desk() as desk:
        report = desk.joint(joint_id)
        asked.note_export("joint", report.head.cut, 1)
        asked.show(report)
