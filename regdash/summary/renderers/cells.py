"""What renderers share: repeated labels, marks that point to notes, and the line under a table that says where from."""

import shlex
from collections.abc import Sequence

from regdash.output.table import Column
from regdash.summary.document import Table, fitting

PAPER = 112  # characters across a page of A4 at the size of tables


def filled(column: Column) -> list[tuple[str, bool]]:
    """
    Write out labels that were written only where they change; the second says that a label is such a repetition.

    >>> filled(Column("group", ["total", "", "partial"], left=True))
    [('total', False), ('total', True), ('partial', False)]
    """
    cells, last = [], ""
    for cell in column.cells:
        repeated = column.left and not cell.strip() and bool(last)
        last = last if repeated else cell
        cells.append((last if repeated else cell, repeated))
    return cells


def on_paper(table: Table, characters: int = PAPER) -> tuple[tuple[Column, ...], tuple[str, ...]]:
    """Choose the columns that a page has room for, and say which were left out."""
    columns, left_out = fitting(table.columns, characters)
    if not left_out:
        return columns, table.said
    said = f"Columns left out here: {', '.join(left_out)}; the workbook and the CSV file have all."
    return columns, (*table.said, said)


def source_line(table: Table) -> str:
    """Say which joints a table is of, and which command gives its figures."""
    command = f" Same figures: regdash {shlex.join(table.provenance.command)}" if table.provenance.command else ""
    return f"{table.provenance.of}{command}"


def squeezed(cell: str) -> str:
    """Take out the spaces that align figures where they are not in columns of equal characters."""
    return cell.strip()


def is_numeric(column: Column) -> bool:
    """Whether a column stands right: it holds figures alone."""
    return not column.left


def lines_of(cells: Sequence[tuple[str, bool]]) -> list[str]:
    """The text of cells, repetitions written out."""
    return [text for text, _ in cells]
