"""Questions on what was done: activity, and revisions by reason and by what was done."""

from collections.abc import Callable

import click
from click.shell_completion import CompletionItem

from regdash.cli import words as completing
from regdash.cli.options import Asked, CohortCommand, Command, answering, cohort_of, filter_argument
from regdash.cli.query import SHOWN, Words

PARTS = ("reasons", "work")  # as the pages have them, which are loaded when they are asked for


def complete_by(ctx: click.Context, param: click.Parameter, incomplete: str) -> list[CompletionItem]:
    """Complete the last name of a grouping of revisions."""
    from regdash.reports import done_groups

    before, comma, last = incomplete.rpartition(",")
    own = [name for name in done_groups.OWN if name.startswith(last)]
    more = [CompletionItem(before + comma + name) for name in own]
    return [*more, *completing.complete_by(ctx, param, incomplete)]


def _by_option(more: str, complete: completing.Complete) -> Callable[[Command], Command]:
    return click.option(
        "--by",
        default="",
        metavar="FIELD[:WIDTH],...",
        shell_complete=complete,
        help=f"Fields to group by, as in class or age:10,sex{more}.",
    )


@click.command(cls=CohortCommand)
@filter_argument
@_by_option("", completing.complete_by)
@click.option(
    "--per", type=click.Choice(("year", "quarter", "month")), default="year", show_default=True, help="Periods."
)
@click.option("--done", default="", metavar="DATES", help="Periods that are shown: 2024, 2020..2024, 2023Q4,2024Q4.")
@answering
def activity(asked: Asked, words: Words, by: str, per: str, done: str) -> None:
    """
    Count primaries and revisions by when they were done, with the change on the year before.

    Revisions count whoever did the primary; two stages are one. Burden is revisions over all operations. Words that
    speak of the primary leave revisions without one out; hospital, region and surgeon are those of the operation.

    \b
      regdash activity joint=knee --by class --done 2020..2024
      regdash activity joint=hip hospital=H012 --per quarter --done 2023..2024
    """
    import regdash.output.done_pages  # noqa: F401  makes the answer known to show
    from regdash.reports import done_groups

    with asked.desk() as desk:
        asked.show(desk.activity(cohort_of(desk, words, outcomes=True), done_groups.parse(by), per, done))


class RevisionsCommand(CohortCommand):
    """A command on revisions: words on what happened are words on the revision itself."""

    def format_epilog(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """List the filter words, with an example of each."""
        from regdash import fields
        from regdash.reports.done_groups import PLACES

        def about(field: fields.Field) -> str:
            own = field.about.replace("of the primary", "of the revision") if field.key in PLACES else field.about
            return own.replace("the first revision", "the revision")

        with formatter.section("Filter words (a,b is either; != is not; lo..hi is a range; @NAME is a saved cohort)"):
            formatter.write_dl([(field.example, about(field)) for field in fields.FIELDS.values()])


@click.command(cls=RevisionsCommand)
@click.argument("words", nargs=-1, metavar="[FILTER]...", shell_complete=completing.complete_joint_filter)
@_by_option("; also year, quarter, month, since (the primary), reason and action", complete_by)
@click.option("--detail", is_flag=True, help="Reasons as surgeons record them, not in groups.")
@click.option("--first", is_flag=True, help="First revisions of registered joints alone.")
@click.option("--part", type=click.Choice(PARTS), help="One part alone; with --csv its rows, reasons if left out.")
@click.option("--list", "listed", is_flag=True, help="List the revisions themselves.")
@click.option("--limit", type=click.IntRange(min=0), help=f"Of a list, rows at most; {SHOWN} for people, else all.")
@click.option("--offset", type=click.IntRange(min=0), default=0, help="Of a list, rows to leave out at the beginning.")
@click.option("--order", help="Of a list, the column to order by, done_date if left out; -COLUMN falls.")
@answering
def revisions(
    asked: Asked,
    words: Words,
    by: str,
    detail: bool,
    first: bool,
    part: str | None,
    listed: bool,
    limit: int | None,
    offset: int,
    order: str | None,
) -> None:
    """
    Say what revisions were done for, and what was done at them, whoever did the primary.

    revised, reason, action, stem, augment and graft speak of each revision itself; hospital, region and surgeon too.

    \b
      regdash revisions joint=hip revised=2019,2024 --by year
      regdash revisions joint=knee class=partial action=partial-to-total --by reason --part work
      regdash revisions joint=knee revised=2024 --by class
      regdash revisions joint=knee action=partial-to-total stem=yes revised=2024 --list
    """
    from regdash.output.done_pages import RevisionsPart
    from regdash.reports import done_groups

    if listed and (by or detail or part):
        raise click.UsageError("--list has one revision a row, so it goes without --by, --detail and --part")
    if not listed and (limit is not None or offset or order):
        raise click.UsageError("--limit, --offset and --order are of a list, so they go with --list")
    with asked.desk() as desk:
        cohort = cohort_of(desk, words, outcomes=True)
        if not listed:
            report = desk.revisions(cohort, done_groups.parse(by), detail, first)
            asked.show(report if part is None else RevisionsPart(report, part))
            return
        most = SHOWN if limit is None and asked.form == "text" else limit
        found = desk.revision_list(cohort, offset, most, order or "done_date", first)
        asked.note_export("revisions", found.head.cut, len(found.rows), filter=" ".join(words))
        asked.show(found)
