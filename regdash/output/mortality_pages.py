"""Mortality as a page of text and in the form that programs get; importing it makes it known to both."""

from collections.abc import Sequence
from typing import Any

from regdash.output.people import Lines, closing, page, tabled, wrapped
from regdash.output.record import WITHHELD, Record, Row, columns_of, record_of
from regdash.output.sheets import Withheld, groups_column, limits_heading
from regdash.output.table import Column, labelled
from regdash.output.wording import Limits, cohort_in_words, count, grouping_in_words, number, so_many, with_limits
from regdash.reports.mortality import after
from regdash.reports.mortality_model import MortalityHead, MortalityReport, MortalityRow

DECIMALS = 2  # of per cent: 90 days after an elective operation few in a thousand have died


@record_of.register
def _(report: MortalityReport) -> Record:
    names = columns_of(MortalityRow)
    return Record(head_facts(report.head), names, [_row(row, names) for row in report.rows])


def _row(row: MortalityRow, names: tuple[str, ...]) -> Row:
    written = {name: getattr(row, name) for name in names}
    if row.withheld is None:
        del written[WITHHELD]
    return written


def head_facts(head: MortalityHead) -> dict[str, Any]:
    """Write the facts of the answer. `cohort` and `by` are words that the command line reads back."""
    return {
        "measure": head.measure,
        "cohort": str(head.cohort),
        **({} if head.beside is None else {"beside": str(head.beside)}),
        "by": ",".join(map(str, head.by)),
        "cut": head.cut,
        "operations": head.operations,
        "joints": head.joints,
        "patients": head.patients,
        "deaths": head.deaths,
        "deaths_known_through": head.deaths_known_through,
        "median_follow_up": head.median_follow_up,
        "policy": head.settings,
        "method": head.method,
        "cautions": list(head.cautions),
    }


@page.register
def _(report: MortalityReport, width: int) -> Lines:
    head, notes = report.head, Withheld()
    by = f", by {grouping_in_words(head.by)}" if head.by else ""
    beside = [] if head.beside is None else [("beside", cohort_in_words(head.beside))]
    facts = [
        ("cohort", cohort_in_words(head.cohort)),
        *beside,
        ("data cut", head.cut),
        ("operations", denominators(head)),
        ("deaths", f"known through {head.deaths_known_through}"),
    ]
    title = f"{head.measure[:1].upper()}{head.measure[1:]}{by}"
    table = tabled(mortality_columns(report.rows, head.settings["confidence_level"], notes), width)
    lines = [*wrapped(title, width), "", *labelled(facts, width), "", *table]
    return [*lines, *closing(head.method, head.cautions, width, notes)]


def denominators(head: MortalityHead, noun: str = "") -> str:
    """Say of which operations an answer is; `noun` where nothing before says what is counted."""
    said = f"{count(head.operations)} {noun}in {so_many(head.patients, 'patient')}, of {so_many(head.joints, 'joint')}"
    median = head.median_follow_up
    followed = "" if median is None else f"; median follow-up {number(median, 1)} years"
    return f"{said}; {count(head.deaths)} followed by a death{followed}"


def mortality_columns(rows: Sequence[MortalityRow], level: float, notes: Withheld) -> list[Column]:
    """Show mortality by group and day."""
    figures: list[Limits] = [(row.estimate, row.lower, row.upper) for row in rows]
    return [
        groups_column(rows),
        Column("by", [after(row.days) for row in rows], left=True),
        Column("at risk", [count(row.at_risk) for row in rows]),
        Column("died", [count(row.deaths) for row in rows]),
        Column(
            limits_heading("died, %", level),
            notes.mark(with_limits(figures, DECIMALS, 100), [row.withheld for row in rows]),
            left=True,
        ),
    ]
