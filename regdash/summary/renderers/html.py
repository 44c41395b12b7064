"""
The summary as one HTML file: no script, no network, light and dark, for print, phones and screen readers.

Built as a tree and written by one function, so that text can never become markup.
"""

from importlib import resources
from xml.etree import ElementTree as ET

from regdash.figures.drawing import as_svg
from regdash.figures.style import DARK, LIGHT, PAGE_CSS, page_variables
from regdash.summary.document import (
    Block,
    Bullets,
    Document,
    Facts,
    Figure,
    Paragraph,
    Section,
    Table,
    Warned,
)
from regdash.summary.renderers.cells import filled, is_numeric, on_paper, source_line, squeezed

Element = ET.Element
LONG = 34  # characters of a cell from which it may be wrapped
_EMPTY = ("meta", "link", "br")  # elements without an end tag
_SVG = "\x00svg"  # holds a picture that is written already


def render(document: Document) -> str:
    """Write a document as a page."""
    root = Element("html", {"lang": document.language})
    _head(root, document)
    body = _sub(root, "body")
    _sub(body, "a", "Skip to the content", {"class": "skip", "href": "#content"})
    header = _sub(body, "header")
    _sub(header, "h1", document.title)
    _sub(header, "p", document.subtitle, {"class": "subtitle"})
    _contents(body, document)
    main = _sub(body, "main", attributes={"id": "content"})
    for section in document.sections:
        _section(main, section, 2)
    _sub(body, "footer", document.footer)
    return "<!doctype html>\n" + written(root) + "\n"


def page_css() -> str:
    """The look of the page, with the colours of both themes."""
    css = resources.files("regdash.summary.renderers").joinpath("page.css").read_text(encoding="utf-8")
    return css.replace("/*light*/", page_variables(LIGHT)).replace("/*dark*/", page_variables(DARK)) + PAGE_CSS


def written(element: Element) -> str:
    """Write an element and what is in it as HTML."""
    if element.tag == _SVG:
        return element.text or ""
    attributes = "".join(f' {name}="{_escaped(value, quotes=True)}"' for name, value in element.attrib.items())
    if element.tag in _EMPTY:
        return f"<{element.tag}{attributes}>"
    text = (element.text or "") if element.tag == "style" else _escaped(element.text or "")
    inside = text + "".join(written(child) + _escaped(child.tail or "") for child in element)
    line = "\n" if element.tag in ("section", "table", "tr", "figure", "p", "ul", "dl", "h2", "h3", "h4", "nav") else ""
    return f"<{element.tag}{attributes}>{inside}</{element.tag}>{line}"


def _escaped(text: str, quotes: bool = False) -> str:
    text = text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
    return text.replace('"', "&quot;") if quotes else text


def _sub(parent: Element, tag: str, text: str = "", attributes: dict[str, str] | None = None) -> Element:
    element = ET.SubElement(parent, tag, attributes or {})
    element.text = text
    return element


def _head(root: Element, document: Document) -> None:
    head = _sub(root, "head")
    _sub(head, "meta", attributes={"charset": "utf-8"})
    _sub(head, "meta", attributes={"name": "viewport", "content": "width=device-width, initial-scale=1"})
    _sub(head, "meta", attributes={"name": "color-scheme", "content": "light dark"})
    _sub(head, "meta", attributes={"name": "date", "content": document.date})
    _sub(head, "link", attributes={"rel": "icon", "href": "data:,"})  # or browsers ask the network for one
    _sub(head, "title", f"{document.title}: {document.subtitle}")
    _sub(head, "style", page_css())


def _contents(body: Element, document: Document) -> None:
    nav = _sub(body, "nav", attributes={"aria-label": "Contents"})
    items = _sub(nav, "ol")
    for section in document.sections:
        item = _sub(items, "li")
        _sub(item, "a", section.title, {"href": f"#{section.key}"})
        if section.sections:
            inner = _sub(item, "ul")
            for part in section.sections:
                _sub(_sub(inner, "li"), "a", part.title, {"href": f"#{part.key}"})


def _section(parent: Element, section: Section, level: int) -> None:
    named = {"aria-labelledby": section.key} if level == 2 else {}  # the parts of one are no landmarks
    element = _sub(parent, "section", attributes=named)
    _sub(element, f"h{min(level, 6)}", section.title, {"id": section.key})
    for block in section.blocks:
        _block(element, block)
    for part in section.sections:
        _section(element, part, level + 1)


def _block(parent: Element, block: Block) -> None:
    if isinstance(block, Paragraph):
        _sub(parent, "p", block.text)
    elif isinstance(block, Warned):
        _sub(parent, "p", block.text, {"class": "warned", "role": "note"})
    elif isinstance(block, Bullets):
        items = _sub(parent, "ul")
        for item in block.items:
            _sub(items, "li", item)
    elif isinstance(block, Facts):
        _facts(parent, block)
    elif isinstance(block, Table):
        _table(parent, block)
    else:
        _figure(parent, block)


def _facts(parent: Element, facts: Facts) -> None:
    found = _sub(parent, "dl")
    for label, value in facts.pairs:
        _sub(found, "dt", label)
        _sub(found, "dd", value)


def _figure(parent: Element, figure: Figure) -> None:
    element = _sub(parent, "figure", attributes={"id": figure.name})
    wide = {"class": "wide", "tabindex": "0", "role": "region", "aria-label": f"Figure: {figure.title}"}
    holder = _sub(element, "div", attributes=wide)
    _sub(holder, _SVG, as_svg(figure.picture, figure.name, figure.title, figure.alt, css=None))
    caption = _sub(element, "figcaption", " ".join((f"{figure.title}.", *figure.remarks, "Figures: ")))
    _sub(caption, "a", "the table", {"href": f"#table-{figure.table}"}).tail = "."


def _table(parent: Element, table: Table) -> None:
    columns, remarks = on_paper(table, 150)
    holder = _sub(parent, "div", attributes={"class": "table", "id": f"table-{table.name}"})
    wide = {"class": "wide", "tabindex": "0", "role": "region", "aria-label": f"Table: {table.title}"}
    element = _sub(_sub(holder, "div", attributes=wide), "table")
    _sub(element, "caption", table.title)
    row = _sub(_sub(element, "thead"), "tr")
    for column in columns:
        _sub(row, "th", column.heading, {"scope": "col", **({"class": "n"} if is_numeric(column) else {})})
    body = _sub(element, "tbody")
    cells = [filled(column) for column in columns]
    for n in range(table.height):
        row = _sub(body, "tr")
        for place, (column, own) in enumerate(zip(columns, cells, strict=True)):
            text, repeated = own[n]
            kinds = [*(["n"] if is_numeric(column) else []), *(["same"] if repeated else [])]
            kinds += ["long"] if column.width > LONG else []
            attributes = {"class": " ".join(kinds)} if kinds else {}
            attributes |= {"scope": "row"} if place == 0 else {}
            _sub(row, "th" if place == 0 else "td", squeezed(text), attributes)
    if not table.height:
        _sub(_sub(body, "tr"), "td", "no rows", {"colspan": str(max(len(columns), 1))})
    _under(holder, table, remarks)


def _under(holder: Element, table: Table, remarks: tuple[str, ...]) -> None:
    """Write notes, remarks and the source under a table."""
    for mark, said in table.notes:
        _sub(holder, "p", f"{mark} {said}", {"class": "small"})
    for remark in remarks:
        _sub(holder, "p", remark, {"class": "small"})
    _sub(holder, "p", source_line(table), {"class": "small source"})
