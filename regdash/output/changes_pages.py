"""What moved between two cuts, as a page and in the form that programs get; importing it makes it known to both."""

import textwrap

from regdash.output.people import Lines, closing, page
from regdash.output.record import Record, columns_of, record_of
from regdash.output.sheets import LABEL, Withheld, once
from regdash.output.table import Column, labelled, lay_out
from regdash.output.wording import NONE, cohort_in_words, count, grouping_in_words, number, years
from regdash.reports.changes import RISK, YEARS, ChangesReport, ChangesRow

HEADINGS = ("definitions", "corrections", "undone", "links", "late", "new")


@record_of.register
def _(report: ChangesReport) -> Record:
    head, columns = report.head, columns_of(ChangesRow)
    rows = [{name: getattr(row, name) for name in columns} for row in report.rows]
    for row in rows:
        if row["withheld"] is None:
            del row["withheld"]
    facts = {
        "measure": head.measure,
        "cohort": str(head.cohort),
        "by": ",".join(map(str, head.by)),
        "earlier": head.earlier,
        "cut": head.cut,
        "policy": head.settings,
        "method": head.method,
        "cautions": list(head.cautions),
    }
    return Record(facts, columns, rows)


@page.register
def _(report: ChangesReport, width: int) -> Lines:
    notes, rows, head = Withheld(), report.rows, report.head
    groups = [Column("group", once([row.group for row in rows]), left=True, least=LABEL)] if head.by else []
    columns = [
        *groups,
        Column("figure", [_figure(row) for row in rows], left=True, least=len("joint-years")),
        Column("before", notes.mark([_written(row, row.before) for row in rows], _why(rows, "before"))),
        *(
            Column(heading, [_moved(row, row.parts[n]) for row in rows], rank=rank + _nothing(rows, n))
            for n, (heading, rank) in enumerate(zip(HEADINGS, (6, 4, 5, 3, 2, 1)))
        ),
        Column("after", [_written(row, row.after) for row in rows]),
    ]
    table = lay_out(columns, width)
    by = f", by {grouping_in_words(head.by)}" if head.by else ""
    facts = [("cohort", cohort_in_words(head.cohort)), ("data cuts", f"{head.earlier} to {head.cut}")]
    left = [f"Left out at this width (--csv has all): {', '.join(table.left_out)}."] if table.left_out else []
    lines = [f"What moved between two data cuts{by}", "", *labelled(facts, width), "", *table.lines]
    lines += [] if rows else ["(none)"]
    said = [*left, "Risks in per cent, what moved in percentage points."]
    lines += [line for text in said for line in ("", *textwrap.wrap(text, width))]
    return [*lines, *closing(head.method, head.cautions, width, notes)]


def _nothing(rows: tuple[ChangesRow, ...], part: int) -> int:
    """Rank a part that moved nothing behind all others, so that it is left out first and the parts still add up."""
    return 0 if any(row.parts[part] for row in rows) else len(HEADINGS)


def _why(rows: tuple[ChangesRow, ...], name: str) -> list[str | None]:
    return [row.withheld if getattr(row, name) is None else None for row in rows]


def _figure(row: ChangesRow) -> str:
    if row.figure == RISK:
        return f"risk at {years(row.years or 0)}"
    return "joint-years" if row.figure == YEARS else row.figure


def _written(row: ChangesRow, value: float | None) -> str:
    if value is None:
        return NONE
    if row.figure == RISK:
        return number(100 * value, 2)
    return number(value, 0) if row.figure == YEARS else count(int(value))


def _moved(row: ChangesRow, value: float | None) -> str:
    """Write what moved with its sign; nothing that moved is a 0."""
    text = _written(row, value)
    return f"+{text}" if value and value > 0 and text.strip("0.,") else text
