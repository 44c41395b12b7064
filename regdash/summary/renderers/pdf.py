"""
The summary as PDF, typeset by Typst, whose engine and fonts come with its package; tagged, for screen readers.

Text goes to the typesetter as strings of its language and never as markup. Dates are those of the document.
"""

import re
from collections.abc import Sequence
from datetime import UTC, datetime
from importlib import resources
from typing import Literal

import typst

from regdash.errors import SummaryError
from regdash.figures.drawing import as_svg
from regdash.figures.style import LIGHT, figure_css
from regdash.output.table import Column
from regdash.summary.document import Block, Bullets, Document, Facts, Figure, Paragraph, Section, Table, Warned
from regdash.summary.renderers.cells import PAPER, filled, is_numeric, on_paper, source_line, squeezed

ACCESSIBLE: Literal["ua-1"] = "ua-1"  # PDF/UA-1 (ISO 14289-1); the typesetter refuses what it can see does not meet it
FONT = "Libertinus Serif"  # comes with the typesetter
LONG = 20  # characters of a column from which it may be wrapped
CSS = figure_css(LIGHT, "#1a1a1a", "#c4c4c4", f"'{FONT}'")


def render(document: Document) -> bytes:
    """
    Typeset a document on A4.

    Raises:
        SummaryError: the typesetter refuses it.
    """
    try:
        compiler = typst.Compiler(source(document).encode(), ignore_system_fonts=True)
        made = compiler.compile(format="pdf", timestamp=_moment(document.date), pdf_standards=ACCESSIBLE)
    except typst.TypstError as fault:
        raise SummaryError(f"The typesetter refuses the document: {fault}") from None
    assert isinstance(made, bytes)
    return made


def source(document: Document) -> str:
    """Write a document in the typesetter's language."""
    template = resources.files("regdash.summary.renderers").joinpath("page.typ").read_text(encoding="utf-8")
    day = datetime.fromisoformat(document.date)
    opening = (
        f"#show: summary.with(title: {quoted(document.title)}, subtitle: {quoted(document.subtitle)}, "
        f"footer: {quoted(document.footer)}, date: datetime(year: {day.year}, month: {day.month}, day: {day.day}))"
    )
    parts = [template, opening, *(line for section in document.sections for line in _section(section, 1))]
    return "\n".join(parts) + "\n"


def quoted(text: str) -> str:
    r"""
    Write text as a string of the typesetter's language.

    >>> quoted('a "b" \\ #c')
    '"a \\"b\\" \\\\ #c"'
    """
    inside = text.replace("\\", "\\\\").replace('"', '\\"').replace("\n", "\\n").replace("\t", "\\t")
    return f'"{inside}"'


def _moment(day: str) -> datetime:
    return datetime.fromisoformat(day).replace(tzinfo=UTC)


def _section(section: Section, level: int) -> list[str]:
    lines = [f"#heading(level: {level}, {quoted(section.title)})"]
    for block in section.blocks:
        lines += _block(block)
    return lines + [line for part in section.sections for line in _section(part, level + 1)]


def _block(block: Block) -> list[str]:
    if isinstance(block, Paragraph):
        return [f"#par(text({quoted(block.text)}))"]
    if isinstance(block, Warned):
        return [f"#warned({quoted(block.text)})"]
    if isinstance(block, Bullets):
        return [f"#list({', '.join(f'[#{quoted(item)}]' for item in block.items)})"] if block.items else []
    if isinstance(block, Facts):
        pairs = ", ".join(f"({quoted(label)}, {quoted(breakable(value))})" for label, value in block.pairs)
        return [f"#facts(({pairs},))"]
    return [_table(block)] if isinstance(block, Table) else [_figure(block)]


def breakable(text: str) -> str:
    """Let long runs without a space, such as hashes, break at the end of a line."""
    return re.sub(r"[^\s]{40,}", lambda run: "\u200b".join(re.findall(".{1,16}", run[0])), text)


def _figure(figure: Figure) -> str:
    svg = as_svg(figure.picture, figure.name, figure.title, figure.alt, CSS)
    remarks = quoted(" ".join((f"{figure.title}.", *figure.remarks)))
    return f"#picture({quoted(svg)}, {quoted(figure.alt)}, {remarks})"


def _table(table: Table) -> str:
    columns, remarks = on_paper(table)
    cells = [filled(column) for column in columns]
    rows = []
    for n in range(table.height):
        own = (f"same({quoted(squeezed(c[n][0]))})" if c[n][1] else quoted(breakable(squeezed(c[n][0]))) for c in cells)
        rows.append(f"({', '.join(own)},)")
    under = [*(f"{mark} {said}" for mark, said in table.notes), *remarks, source_line(table)]
    heads = ", ".join(quoted(column.heading) for column in columns)
    sides = ", ".join("right" if is_numeric(column) else "left" for column in columns)
    crowded = sum(column.width + 2 for column in columns) > PAPER
    wide = ", ".join(_track(column, crowded) for column in columns)
    return (
        f"#sheet({quoted(table.title)}, ({wide},), ({sides},), ({heads},), ({', '.join(rows)}{',' if rows else ''}), "
        f"{_strings(under)})"
    )


def _track(column: Column, crowded: bool) -> str:
    """Say how wide a column is: as its text, or a share of what is left where a page has no room for all."""
    return f"{column.width}fr" if crowded and column.least is not None and column.width > LONG else "auto"


def _strings(texts: Sequence[str]) -> str:
    return f"({', '.join(map(quoted, texts))},)"
