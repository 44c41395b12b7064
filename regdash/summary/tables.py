"""Reports → tables of the document: the cells of the pages for people, and the records of programs, from one answer."""

from collections.abc import Sequence
from dataclasses import fields, replace
from typing import Any

import regdash.output.changes_pages
import regdash.output.records_pages  # noqa: F401  both make their answers known to `record_of`
from regdash.output import comparison_sheets, sheets
from regdash.output.record import Record, record_of
from regdash.output.sheets import LABEL, Withheld
from regdash.output.table import Column
from regdash.output.wording import count, with_limits
from regdash.output.wording import years as written_years
from regdash.reports.model import (
    CompareReport,
    DescribeReport,
    GapReport,
    RatesReport,
    ReasonsReport,
    RiskReport,
    RiskRow,
)
from regdash.summary.document import Provenance, Table

ON_PAPER = "Of {all:,} rows {shown:,} are shown, {which}; the workbook and the CSV file have all."


FEW_TIMES = 2
_RANKS = {1: 3, 4: 2}  # of five times the second is left out first where there is no room, then the last


def risk_table(
    name: str, title: str, report: RiskReport, come_from: Provenance, rows_on_paper: int | None = None
) -> Table:
    """Lay risks out with a row a group and a column a time."""
    notes = Withheld()
    groups = [group.label for group in report.groups]
    at = {(row.group, row.years): row for row in report.rows}
    shown: list[str] = groups
    remarks: tuple[str, ...] = ()
    if rows_on_paper is not None and len(groups) > rows_on_paper:
        first = report.years[0]
        most = sorted(groups, key=lambda g: (-(at[g, first].at_risk or 0), groups.index(g)))[:rows_on_paper]
        shown = [group for group in groups if group in most]
        which = f"those with most joints at risk {since(first)[3:]} after the primary, in the order of their names"
        remarks = (ON_PAPER.format(all=len(groups), shown=len(shown), which=which),)
    columns = [Column(heading_of(report), shown, left=True, least=LABEL)]
    brief = len(report.years) <= FEW_TIMES  # then counts have room beside the risks
    for place, years in enumerate(report.years):
        rows = [at[group, years] for group in shown]
        cells = notes.mark(risk_cells(rows), [row.withheld for row in rows])
        columns.append(Column(since(years), cells, left=True, rank=0 if brief else _RANKS.get(place, 0)))
        if brief:
            columns.append(Column(f"revised {since(years)}", [count(row.revisions) for row in rows], rank=1 + place))
            columns.append(Column(f"at risk, {since(years)[3:]}", [count(row.at_risk) for row in rows], rank=3 + place))
    limits = f"Risk of revision in per cent, with {100 * report.head.settings['confidence_level']:g} % limits."
    return Table(name, title, tuple(columns), record_of(report), come_from, tuple(notes.notes), (limits, *remarks))


def risk_cells(rows: Sequence[RiskRow]) -> list[str]:
    """
    Write risks in per cent with their limits, in little room: none is below 0, so that a dash can stand between them.

    >>> risk_cells([RiskRow("a", 5.0, 100, 4, 0.056, 0.053, 0.059), RiskRow("b", 5.0, 9, 0, None, None, None)])
    ['5.6 (5.3–5.9)', '–']
    """
    plain = with_limits([(row.estimate, row.lower, row.upper) for row in rows], 1, 100)
    return [cell.replace(" to ", "–") for cell in plain]


def heading_of(report: RiskReport) -> str:
    """Head the column of groups by what made them."""
    return ", ".join(by.field.key for by in report.head.by) or "group"


def since(years: float) -> str:
    """
    Head a column of one time.

    >>> since(1.0), since(10.0)
    ('by 1 year', 'by 10 years')
    """
    return f"by {written_years(years)} year{'' if years == 1 else 's'}"


def reasons_table(name: str, title: str, report: ReasonsReport, come_from: Provenance) -> Table:
    """Give each reason's incidence first and its share last, since shares shift with follow-up."""
    notes = Withheld()
    level, rows = report.head.settings["confidence_level"], report.rows
    group, reason, revised, share, incidence = sheets.reason_columns(rows, level, notes)
    said = (
        f"Incidence by {written_years(report.years)} years, death competing; revised and share are over all follow-up.",
    )
    columns = (group, reason, incidence, revised, share)
    return Table(name, title, columns, record_of(report), come_from, tuple(notes.notes), said)


def compare_table(name: str, title: str, report: CompareReport, come_from: Provenance) -> Table:
    """Give hazard ratios; the model stands under the table."""
    notes = Withheld()
    columns = comparison_sheets.compare_columns(report.rows, report.head.settings["confidence_level"], notes)
    return Table(
        name, title, tuple(columns), record_of(report), come_from, tuple(notes.notes), (f"Model: {report.model}",)
    )


def tests_table(name: str, title: str, report: CompareReport, come_from: Provenance) -> Table:
    """Give the tests of a comparison."""
    notes = Withheld()
    columns = comparison_sheets.tested_columns(report.tests, notes)
    return Table(name, title, tuple(columns), rows_record(report, "tests"), come_from, tuple(notes.notes))


def gap_table(name: str, title: str, report: GapReport, come_from: Provenance) -> Table:
    """Split a difference in risk into reasons."""
    notes = Withheld()
    columns = comparison_sheets.gap_columns(report, report.head.settings["confidence_level"], notes)
    one, other = report.groups
    said = f"{one.label} less {other.label}, by {written_years(report.years)} years, in percentage points."
    return Table(name, title, tuple(columns), record_of(report), come_from, tuple(notes.notes), (said,))


def rates_table(
    name: str, title: str, rows: Sequence[Any], level: float, record: Record, come_from: Provenance
) -> Table:
    """Give rates by group or window."""
    notes = Withheld()
    columns = sheets.rate_columns(rows, level, notes)
    return Table(name, title, tuple(columns), record, come_from, tuple(notes.notes))


def describe_table(
    name: str, title: str, report: DescribeReport | RatesReport, come_from: Provenance, least: Sequence[str] = ()
) -> Table:
    """Say who the joints of each group are; `least` names the columns that a page keeps, all if left out."""
    assert isinstance(report, DescribeReport)
    notes = Withheld()
    columns = sheets.describe_columns(report.rows, notes)
    kept = tuple(column for column in columns if not least or column.heading in least)
    said = ("Age: mean at the primary. Years: median follow-up.",) if not least or "years" in least else ()
    return Table(name, title, kept, record_of(report), come_from, tuple(notes.notes), said)


def rows_record(report: Any, part: str) -> Record:
    """Make a record of one of the lists that an answer has beside its rows."""
    whole = record_of(report)
    rows = whole.more.get(part, [])
    kind = type(getattr(report, part)[0]) if getattr(report, part) else None
    columns = tuple(f.name for f in fields(kind)) if kind else tuple(rows[0] if rows else ())
    return Record({**whole.facts, "part": part}, columns, rows)


def plain_record(measure: str, columns: Sequence[str], rows: Sequence[Sequence[Any]]) -> Record:
    """Make a record of rows that no other answer has in this form."""
    return Record({"measure": measure}, tuple(columns), [dict(zip(columns, row, strict=True)) for row in rows])


def shortened(table: Table, rows: int, which: str) -> Table:
    """Keep the first rows of a long table for people, and say so; the record keeps all."""
    if table.height <= rows:
        return table
    columns = tuple(replace(column, cells=column.cells[:rows]) for column in table.columns)
    remark = ON_PAPER.format(all=table.height, shown=rows, which=which)
    return replace(table, columns=columns, remarks=(*table.remarks, remark), notes=used_notes(columns, table.notes))


def used_notes(columns: Sequence[Column], notes: Sequence[tuple[str, str]]) -> tuple[tuple[str, str], ...]:
    """Keep the sentences that a cell still points to."""
    cells = [cell for column in columns for cell in column.cells]
    return tuple((mark, said) for mark, said in notes if any(mark in cell for cell in cells))
