"""The summary as Markdown (CommonMark with tables); figures are files beside it."""

import re

from regdash.summary.document import Block, Bullets, Document, Facts, Figure, Paragraph, Section, Table, Warned
from regdash.summary.renderers.cells import filled, is_numeric, lines_of, on_paper, source_line, squeezed

_SPECIAL = re.compile(r"([\\`*_\[\]<>#|~&])")
_NUMBERED = re.compile(r"^(\d+)([.)])|^([-+])")


def render(document: Document, figures: str = "figures") -> str:
    """
    Write a document as Markdown.

    Args:
        figures: folder of the figures, beside the file.
    """
    lines = [f"# {plain(document.title)}", "", plain(document.subtitle), ""]
    for section in document.sections:
        lines += _section(section, 2, figures)
    return "\n".join([*lines, "---", "", plain(document.footer)]) + "\n"


def plain(text: str) -> str:
    r"""
    Write text so that nothing in it is markup.

    >>> plain("a_b | <c>")
    'a\\_b \\| \\<c\\>'
    """
    return _NUMBERED.sub(lambda found: f"{found[1] or ''}\\{found[2] or found[3]}", _SPECIAL.sub(r"\\\1", text))


def _section(section: Section, level: int, figures: str) -> list[str]:
    lines = [f"{'#' * min(level, 6)} {plain(section.title)}", ""]
    for block in section.blocks:
        lines += [*_block(block, figures), ""]
    for part in section.sections:
        lines += _section(part, level + 1, figures)
    return lines


def _block(block: Block, figures: str) -> list[str]:
    if isinstance(block, Paragraph):
        return [plain(block.text)]
    if isinstance(block, Warned):
        return [f"> {plain(block.text)}"]
    if isinstance(block, Bullets):
        return [f"- {plain(item)}" for item in block.items]
    if isinstance(block, Facts):
        return [f"- **{plain(label)}**: {plain(value)}" for label, value in block.pairs]
    return _table(block) if isinstance(block, Table) else _figure(block, figures)


def _figure(figure: Figure, figures: str) -> list[str]:
    remarks = " ".join((f"{figure.title}.", *figure.remarks))
    return [f"![{plain(figure.alt)}]({figures}/{figure.name}.svg)", "", plain(remarks)]


def _table(table: Table) -> list[str]:
    columns, remarks = on_paper(table, 150)
    heads = " | ".join(plain(column.heading) for column in columns)
    ruler = " | ".join("---:" if is_numeric(column) else ":---" for column in columns)
    cells = [lines_of(filled(column)) for column in columns]
    lines = [f"**{plain(table.title)}**", "", f"| {heads} |", f"| {ruler} |"]
    lines += [f"| {' | '.join(plain(squeezed(column[n])) for column in cells)} |" for n in range(table.height)]
    lines += [] if table.height else ["", "no rows"]
    under = [f"{mark} {said}" for mark, said in table.notes]
    for said in (*under, *remarks, source_line(table)):
        lines += ["", plain(said)]
    return lines
