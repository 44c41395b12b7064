"""signals history: the screen of every past quarter, with what was known then."""

from datetime import date
from typing import TYPE_CHECKING

import click

from regdash.cli import words as completing
from regdash.cli.options import Asked, CohortCommand, answering, cohort_of, reviews_option
from regdash.cli.printing import Steps
from regdash.cli.query import Words
from regdash.cli.screen import KINDS

if TYPE_CHECKING:
    from regdash.signals.history_model import HistoryReport


@click.command("history", cls=CohortCommand)
@click.argument("words", nargs=-1, metavar="[CODE] [FILTER]...", shell_complete=completing.complete_filter)
@click.option("--kind", type=click.Choice(KINDS), default=KINDS[0], show_default=True, help="What is screened.")
@click.option("--again", is_flag=True, help="Replay although it is remembered.")
@reviews_option
@answering
def history(asked: Asked, words: Words, kind: str, again: bool, reviews_as_of: date | None) -> None:
    """
    Replay the screen at the end of each past quarter: first seen, seen again, not seen.

    A quarter is screened with what was known then of what had happened by then. A replay is remembered in the store,
    in .histories, until the data cut, the settings or the confirmed signals change; what is there may be deleted.

    \b
      regdash signals history joint=knee class=total
      regdash signals history KT-015 joint=knee
      regdash signals history --kind constructs --csv
    """
    from regdash.output.history_pages import HistoryOfCode

    codes = [word for word in words if "=" not in word]
    if len(codes) > 1:
        raise click.UsageError(f"{codes[1]} is no filter word; name one code at most, as in KT-015")
    with asked.signals_desk() as desk, Steps() as steps:
        cohort = cohort_of(desk, tuple(word for word in words if "=" in word))
        report = desk.history(
            kind,
            cohort,
            progress=lambda done, of: steps("replaying quarters", done, of),
            again=again,
            reviews_as_of=reviews_as_of,
        )
        steps.close()
        asked.show(HistoryOfCode(report, _known(report, codes[0])) if codes else report)


def _known(report: "HistoryReport", code: str) -> str:
    """
    Find a code however it is written.

    Raises:
        FilterError: nothing of that code was ever tested.
    """
    from regdash.errors import FilterError
    from regdash.suggest import nearest

    known = {row.code.casefold(): row.code for row in report.rows}
    if code.casefold() not in known:
        raise FilterError(f"No screen of these joints has tested {code}. {nearest(code, sorted(known.values()))}")
    return known[code.casefold()]
