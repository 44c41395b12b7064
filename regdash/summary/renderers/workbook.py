"""The summary as a workbook (Office Open XML): a sheet a table, every row, numbers as numbers, notes under them."""

import io
from datetime import datetime
from typing import Any

import xlsxwriter
from xlsxwriter.format import Format
from xlsxwriter.worksheet import Worksheet

from regdash.summary.document import NOTHING, Document, Table, cell_mark
from regdash.summary.renderers.cells import source_line
from regdash.summary.renderers.package import shown

CONTENTS = "Contents"
LONGEST_NAME = 31  # characters of a sheet's name
WIDEST = 48
_OPTIONS = {"in_memory": True, "strings_to_formulas": False, "strings_to_urls": False, "strings_to_numbers": False}


def render(document: Document) -> bytes:
    """Write a document's tables as a workbook; the first sheet lists them."""
    data = io.BytesIO()
    with xlsxwriter.Workbook(data, _OPTIONS) as book:
        day = datetime.fromisoformat(document.date)  # or the clock's would be written
        book.set_properties({"title": document.title, "subject": document.subtitle, "created": day})
        styles = {"head": book.add_format({"bold": True, "bottom": 1, "text_wrap": True, "valign": "top"})}
        styles["title"] = book.add_format({"bold": True, "font_size": 13})
        styles["note"] = book.add_format({"italic": True})
        first = book.add_worksheet(CONTENTS)
        names = sheet_names([table.name for table in document.tables])
        for table in document.tables:
            _sheet(book.add_worksheet(names[table.name]), table, styles)
        _contents(first, document, names, styles)
    return data.getvalue()


def sheet_names(tables: list[str]) -> dict[str, str]:
    """
    Give each table a name that a sheet may have: short, unique whatever its case.

    >>> sheet_names(["risk-knee", "a" * 40, "a" * 41])["a" * 41]
    'aaaaaaaaaaaaaaaaaaaaaaaaaaaaa-2'
    """
    names: dict[str, str] = {}
    taken = {CONTENTS.lower()}
    for table in tables:
        name, number = table[:LONGEST_NAME], 1
        while name.lower() in taken:
            number += 1
            end = f"-{number}"
            name = table[: LONGEST_NAME - len(end)] + end
        taken.add(name.lower())
        names[table] = name
    return names


def _contents(sheet: Worksheet, document: Document, names: dict[str, str], styles: dict[str, Format]) -> None:
    sheet.write_string(0, 0, document.title, styles["title"])
    sheet.write_string(1, 0, document.subtitle)
    sheet.write_string(2, 0, document.footer)
    for place, heading in enumerate(("sheet", "table", "of")):
        sheet.write_string(4, place, heading, styles["head"])
    for n, table in enumerate(document.tables):
        sheet.write_url(5 + n, 0, f"internal:'{names[table.name]}'!A1", string=names[table.name])
        sheet.write_string(5 + n, 1, table.title)
        sheet.write_string(5 + n, 2, table.provenance.of)
    sheet.set_column(0, 0, 34)
    sheet.set_column(1, 2, 60)
    sheet.freeze_panes(5, 0)


def _sheet(sheet: Worksheet, table: Table, styles: dict[str, Format]) -> None:
    """Write a table: its title, the heads, a row a row, then notes and where it comes from."""
    sheet.write_string(0, 0, table.title, styles["title"])
    for place, name in enumerate(table.record.columns):
        sheet.write_string(2, place, name, styles["head"])
        widest = max([len(name), *(len(str(row.get(name, ""))) for row in table.record.rows[:200])])
        sheet.set_column(place, place, min(max(widest + 2, 9), WIDEST))
    for n, row in enumerate(table.record.rows):
        for place, name in enumerate(table.record.columns):
            _cell(sheet, 3 + n, place, name, row)
    under = [*table.said, source_line(table), *withheld_said(table)]
    for n, said in enumerate(under):
        sheet.write_string(4 + len(table.record.rows) + n, 0, said, styles["note"])
    sheet.freeze_panes(3, 1)


def withheld_said(table: Table) -> list[str]:
    """Explain the words that stand where there is no figure, where they do."""
    marks = {
        cell_mark(row)
        for row in table.record.rows
        for name in table.record.columns
        if row.get(name) is None and name != "withheld"
    }
    said = {
        "withheld": "withheld: the figure is not shown; the column withheld says why. It is neither 0 nor missing.",
        NOTHING: f"{NOTHING}: there is no such figure here.",
    }
    return [said[mark] for mark in sorted(marks)]


def _cell(sheet: Worksheet, line: int, place: int, name: str, row: dict[str, Any]) -> None:
    value = shown(row, name)
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        sheet.write_string(line, place, str(value).lower() if isinstance(value, bool) else str(value))
    else:
        sheet.write_number(line, place, value)
