"""The screens of every past quarter on one unit, as a picture, in words and as a table."""

from typing import Any

from regdash.figures.quarters import EMPTY, FULL, LINE, NONE, quarters_figure
from regdash.output.history_pages import STATE_WORDS
from regdash.output.table import Column
from regdash.output.wording import count, number
from regdash.signals.history_model import NO_SIGNAL, NOT_TESTED, NOT_USED, SIGNAL, HistoryReport, HistoryRow
from regdash.signals.history_strip import in_words
from regdash.summary.document import Block, Facts, Figure, Paragraph, Provenance, Section, Table
from regdash.summary.tables import plain_record
from regdash.summary.unit_asker import UnitAsker

MARKS = {SIGNAL: FULL, NO_SIGNAL: EMPTY, NOT_TESTED: LINE, NOT_USED: NONE}
KNOWN_THEN = (
    "Each quarter was screened with what was known at its end: records that had come, and follow-up up to where feeds "
    "were complete. That a unit was a signal later does not show that it could have been acted on sooner."
)
NEVER = "No screen of a past quarter has tested {code}: it had too few joints, or too few revisions were expected."
QUARTERS = 4


def section(asker: UnitAsker) -> Section:
    """Replay it."""
    report, past = asker.history, asker.past
    own = asker.noted(report.head)
    if past is None:
        return Section("history", "History by quarter", (Paragraph(NEVER.format(code=asker.unit.code)),))
    title = f"{asker.unit.code}: quarters in which it was a signal"
    table = _table(asker, report, past, title, own)
    said = f"{asker.unit.code}: {in_words(past, report.quarters)}."
    marks = [MARKS[state] for state in past.states]
    key = [(MARKS[state], STATE_WORDS[state]) for state in (SIGNAL, NO_SIGNAL, NOT_TESTED)]
    alt = f"A mark for each quarter from {report.quarters[0]} to {report.quarters[-1]}. {said}"
    blank = ("No mark: not used yet.",) if NOT_USED in past.states else ()
    figure = Figure("figure-history", title, alt, quarters_figure(report.quarters, marks, key), table.name, blank)
    facts = tuple(_facts(asker, past))
    blocks: list[Block] = [Paragraph(f"{said} {KNOWN_THEN}"), *([Facts(facts)] if facts else []), figure, table]
    return Section("history", "History by quarter", tuple(blocks))


def _facts(asker: UnitAsker, past: HistoryRow) -> list[tuple[str, str]]:
    """Say when it was first used and first seen; what was counted then stays in the office."""
    if past.first_used is None or past.first_seen is None:
        return [("first used here", str(past.first_used or "not known"))] if asker.is_inside else []
    if not asker.is_inside:
        return [("first seen", f"{past.first_seen}, in {_window(past)}")]
    then = f"{count(past.joints)} joints, {count(past.revisions)} revised"
    then = f"withheld: {past.withheld}" if past.withheld else then
    return [
        ("first used here", past.first_used.isoformat()),
        ("first seen", f"{past.first_seen}, {number(past.years_to_first_seen, 1)} years later, in {_window(past)}"),
        ("known then", then),
    ]


def _window(past: HistoryRow) -> str:
    return "all of follow-up" if past.window == "all" else f"years {past.window} since implantation"


def _table(asker: UnitAsker, report: HistoryReport, past: HistoryRow, title: str, own: tuple[str, ...]) -> Table:
    """Write quarters by year for people, and one a row for programs, with what each screen found in all."""
    words = [STATE_WORDS[state] for state in past.states]
    said = dict(zip(report.quarters, words, strict=True))
    years = sorted({quarter[:4] for quarter in report.quarters})
    columns = [Column("year", years, left=True)]
    columns += [Column(f"Q{n}", [said.get(f"{year}Q{n}", "–") for year in years], left=True) for n in range(1, 5)]
    names: tuple[str, ...] = ("quarter", "state")
    rows: list[tuple[Any, ...]] = list(zip(report.quarters, words, strict=True))
    if asker.is_inside:
        names = (*names, "tests", "signals")
        rows = [(*row, *more) for row, more in zip(rows, zip(report.tests, report.signals), strict=True)]
    come_from = _provenance(asker, report, own)
    return Table("history", title, tuple(columns), plain_record(report.head.measure, names, rows), come_from)


def _provenance(asker: UnitAsker, report: HistoryReport, own: tuple[str, ...]) -> Provenance:
    of = f"Screens of {report.kind} from {report.quarters[0]} to {report.quarters[-1]}, each with what was known then."
    if not asker.is_inside:
        return Provenance(report.head.measure, str(asker.cohort_screened), of)
    arguments = ("signals", "history", asker.unit.code, *asker.cohort_screened.words, "--kind", asker.unit.kind)
    command = asker.command(*asker.reviewed(*arguments))
    return Provenance(report.head.measure, str(asker.cohort_screened), of, command, own)
