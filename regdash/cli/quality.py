"""Questions about the records themselves: how complete, how late, with what missing, and up to when."""

from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

import click

from regdash.cli.family import Family
from regdash.cli.options import Asked, Command, answering, cohort_of, filter_argument
from regdash.vocabulary import KINDS

if TYPE_CHECKING:
    from regdash.reports.desk import Desk

Words = tuple[str, ...]
_by_option = click.option(
    "--by",
    default="",
    metavar="NAME,...",
    help="Of joint, kind, hospital, region, year and month, as in hospital,year.",
)
_kind_option = click.option("--kind", type=click.Choice(KINDS), help="Primaries alone, or revisions alone.")


class RecordsCommand(click.Command):
    """A command on records; its help lists the words that choose them."""

    def format_epilog(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """List the filter words, with an example of each."""
        from regdash import fields
        from regdash.reports.records import WORDS

        about = {"implanted": "date of the operation, primary or revision", "hospital": "hospital of the operation"}
        with formatter.section("Filter words (a,b is either; != is not; lo..hi is a range)"):
            chosen = [fields.FIELDS[key] for key in WORDS]
            formatter.write_dl([(field.example, about.get(field.key, field.about)) for field in chosen])


@click.group(cls=Family)
def quality() -> None:
    """Say how complete, how timely and how full the records are, and up to when each feed is complete."""


def _on_records(command: Command) -> Command:
    return filter_argument(_by_option(_kind_option(answering(command))))


@contextmanager
def _records_desk(asked: Asked) -> "Iterator[Desk]":
    """Open the desk; a page has as many groups as anybody reads, a file any number."""
    with asked.desk() as desk:
        if asked.form != "text":
            desk.most_groups = None
        yield desk


def _show(asked: Asked, question: str, words: Words, by: str, kind: str | None, **more: Any) -> None:
    import regdash.output.records_pages  # noqa: F401  makes these answers known to show
    from regdash.reports.records import units_of

    with _records_desk(asked) as desk:
        asked.show(getattr(desk, question)(cohort_of(desk, words), units_of(by), kind, **more))


@quality.command(cls=RecordsCommand)
@_on_records
def completeness(asked: Asked, words: Words, by: str, kind: str | None) -> None:
    """
    Compare what is in the register with what administrative systems count.

    \b
      regdash quality completeness joint=hip implanted=2023.. --by hospital,year
    """
    _show(asked, "completeness", words, by, kind)


@quality.command(cls=RecordsCommand)
@_on_records
def delays(asked: Asked, words: Words, by: str, kind: str | None) -> None:
    """
    Say how many days pass from an operation to its record.

    \b
      regdash quality delays --by hospital,kind
    """
    _show(asked, "delays", words, by, kind)


@quality.command(cls=RecordsCommand)
@_on_records
@click.option(
    "--period", type=click.Choice(("month", "quarter")), default="month", help="What a row and a column stand for."
)
@click.option(
    "--months",
    type=click.IntRange(min=0),
    help="The latest months of operation, in whole periods; 24, or 60 by quarter, if left out, 0 for all.",
)
@click.option("--shares", is_flag=True, help="On the page: the share that had come by then, in %, not counts.")
def triangle(
    asked: Asked, words: Words, by: str, kind: str | None, period: str, months: int | None, shares: bool
) -> None:
    """
    Show how the operations of each month or quarter came in, month by month or quarter by quarter.

    \b
      regdash quality triangle hospital=H012 --months 36
      regdash quality triangle joint=knee --period quarter --shares
    """
    from regdash.output.triangle_pages import Shares
    from regdash.reports.records import units_of

    with _records_desk(asked) as desk:
        report = desk.triangle(cohort_of(desk, words), units_of(by), kind, months, period)
        asked.show(Shares(report) if shares and asked.form == "text" else report)


@quality.command(cls=RecordsCommand)
@_on_records
def missing(asked: Asked, words: Words, by: str, kind: str | None) -> None:
    """
    Say which fields are missing how often, among records to which they apply.

    \b
      regdash quality missing joint=knee --by hospital,year --csv
    """
    _show(asked, "missing", words, by, kind)


@quality.command()
@click.option("--hospital", metavar="CODE", help="One hospital beside the office's own feeds.")
@answering
def feeds(asked: Asked, hospital: str | None) -> None:
    """
    Say through which date each feed is complete, and how far each hospital's joints are followed.

    \b
      regdash quality feeds
    """
    import regdash.output.records_pages  # noqa: F401  makes these answers known to show

    with asked.desk() as desk:
        asked.show(desk.complete_through(hospital))
