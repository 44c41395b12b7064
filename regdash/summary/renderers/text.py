"""The summary as plain text for a terminal; figures are told in words."""

import textwrap

from regdash.output.table import labelled, lay_out
from regdash.summary.document import Block, Bullets, Document, Facts, Figure, Paragraph, Section, Table, Warned
from regdash.summary.renderers.cells import source_line

WIDTH = 79
LONGEST_LABEL = 24
_RULES = {1: "=", 2: "=", 3: "-", 4: "."}


def render(document: Document, width: int = WIDTH) -> str:
    """Write a document as lines no longer than `width`, where words allow."""
    lines = [*_heading(document.title, 1, width), *_wrapped(document.subtitle, width), ""]
    for section in document.sections:
        lines += _section(section, 2, width)
    return "\n".join([*lines, *_wrapped(document.footer, width)]) + "\n"


def _heading(text: str, level: int, width: int) -> list[str]:
    lines = _wrapped(text.upper() if level == 1 else text, width)
    return [*lines, _RULES.get(level, ".") * max(map(len, lines)), ""]


def _section(section: Section, level: int, width: int) -> list[str]:
    lines = _heading(section.title, level, width)
    for block in section.blocks:
        lines += [*_block(block, width), ""]
    for part in section.sections:
        lines += _section(part, level + 1, width)
    return lines


def _block(block: Block, width: int) -> list[str]:
    if isinstance(block, Paragraph):
        return _wrapped(block.text, width)
    if isinstance(block, Warned):
        return _wrapped(f"! {block.text}", width, "  ")
    if isinstance(block, Bullets):
        return [line for item in block.items for line in _wrapped(f"- {item}", width, "  ")]
    if isinstance(block, Facts):
        return _facts(block, width)
    return _table(block, width) if isinstance(block, Table) else _figure(block, width)


def _facts(facts: Facts, width: int) -> list[str]:
    """Set short labels beside what they say, and long ones above it."""
    if all(len(label) <= LONGEST_LABEL for label, _ in facts.pairs):
        return labelled(facts.pairs, width)
    lines = []
    for label, said in facts.pairs:
        lines += [*_wrapped(label, width), *_wrapped(f"    {said}", width, "    ")]
    return lines


def _figure(figure: Figure, width: int) -> list[str]:
    return _wrapped(f"[figure {figure.name}.svg: {figure.alt}]", width, " ")


def _table(table: Table, width: int) -> list[str]:
    laid = lay_out(table.columns, width)
    lines = [*_wrapped(table.title, width), "", *(laid.lines if table.height else ("(no rows)",))]
    left_out = [f"Left out at this width: {', '.join(laid.left_out)}."] if laid.left_out else []
    lines += ["", *labelled(table.notes, width)] if table.notes else [""]
    for said in (*left_out, *table.said, source_line(table)):
        lines += _wrapped(said, width, "  ")
    return lines


def _wrapped(text: str, width: int, indent: str = "") -> list[str]:
    return textwrap.wrap(text, width, subsequent_indent=indent, break_on_hyphens=False) or [""]
