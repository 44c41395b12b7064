"""The commands on signals: which there are, and what became of them."""

from dataclasses import replace

import click

from regdash.cli.options import Asked, CohortCommand, answering, cohort_of, filter_argument
from regdash.cli.query import Words
from regdash.cli.screen import KINDS


@click.group()
def signals() -> None:
    """
    List the signals of a data cut. A signal starts a review and shows no cause.

    \b
      regdash signals list joint=knee
      regdash signals list --kind constructs --csv
    """


@signals.command("list", cls=CohortCommand)
@filter_argument
@click.option("--kind", type=click.Choice(KINDS), default=KINDS[0], show_default=True, help="What is screened.")
@answering
def list_signals(asked: Asked, words: Words, kind: str) -> None:
    """List the signals of a screen, the most striking first."""
    from regdash.signals.model import LOOK_CLOSER

    with asked.signals_desk() as desk:
        report = desk.screen(kind, cohort_of(desk, words))
        asked.show(replace(report, rows=tuple(row for row in report.rows if row.signal == LOOK_CLOSER)))
