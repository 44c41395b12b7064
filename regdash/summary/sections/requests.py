"""The requests that the office got and answered in the quarter, and how long that took."""

from dataclasses import astuple, fields

from regdash.output.table import Column
from regdash.output.wording import count
from regdash.reports.requests_served import MEASURE, METHOD, ServedRow, served
from regdash.summary.asker import Asker
from regdash.summary.document import Paragraph, Provenance, Section, Table
from regdash.summary.sections.decisions import refuse_others
from regdash.summary.tables import plain_record

NAME = "requests-of-the-quarter"
TITLE = "Requests served and time taken"
TEN = 10
_HEADINGS = {
    "median_days": "median, days",
    "ninetieth_days": "90th centile",
    "longest_days": "longest",
    "closed_unanswered": "closed unanswered",
}
_RANKS = {"longest_days": 2, "closed_unanswered": 1}


def section(asker: Asker) -> Section:
    """Count the requests of the quarter by who asked."""
    refuse_others(asker, "requests")
    lines, quarter = asker.reviews.request_lines, asker.quarter
    rows = served(tuple(asker.desk.register(lines)), quarter.first, quarter.last)
    asker.methods.setdefault(MEASURE, METHOD)
    if len(rows) == 1:
        said = f"The register of requests has none of {quarter}, and none was open at its end."
        return Section("requests", TITLE, (Paragraph(said),))
    command = ("requests", "times", str(quarter), "--up-to-line", str(lines))
    of = f"Requests in the register up to line {lines:,}, from {quarter.first} to {quarter.last}."
    names = tuple(field.name for field in fields(ServedRow))
    record = plain_record(MEASURE, names, [astuple(row) for row in rows])
    table = Table(
        NAME, "Requests of the quarter, by who asked", _columns(rows), record, Provenance(MEASURE, "", of, command)
    )
    return Section("requests", TITLE, (Paragraph(_said(asker, rows[-1])), table))


def _said(asker: Asker, every: ServedRow) -> str:
    """Say the whole quarter in two sentences."""
    return (
        f"In {asker.quarter} the office received {_so_many(every.received, 'request')} and answered "
        f"{every.answered:,}{_took(every)}. At its end {_open(every)}."
    )


def _took(every: ServedRow) -> str:
    """Say how long answers took, where there was one or more; nine of ten are some of them where they are ten."""
    if every.median_days is None or every.ninetieth_days is None or every.longest_days is None:
        return ""
    half, nine, last = (_so_many(n, "day") for n in (every.median_days, every.ninetieth_days, every.longest_days))
    if every.answered == 1:
        return f", after {half}"
    rest = f"nine of ten within {nine}" if every.answered >= TEN else f"all of them within {last}"
    return f", half of them within {half} and {rest}"


def _open(every: ServedRow) -> str:
    if every.open <= 1:
        one = "one was open" if every.open else "none was open"
        return f"{one}, and overdue" if every.overdue else one
    return f"{every.open:,} were open, {f'{every.overdue:,}' if every.overdue else 'none'} of them overdue"


def _so_many(number: int, noun: str) -> str:
    return f"{number:,} {noun}{'' if number == 1 else 's'}"


def _columns(rows: tuple[ServedRow, ...]) -> tuple[Column, ...]:
    names = [field.name for field in fields(ServedRow)]
    columns = [Column("who asked", [row.kind for row in rows], left=True)]
    for name in names[1:]:
        cells = [count(getattr(row, name)) for row in rows]
        columns.append(Column(_HEADINGS.get(name, name), cells, rank=_RANKS.get(name, 0)))
    return tuple(columns)
