"""The forms that a summary is written in: what browsers, screen readers, printers and terminals get."""

import io
import re
import zipfile
from dataclasses import replace
from html.parser import HTMLParser
from itertools import pairwise
from typing import Any

import pytest
from markdown_it import MarkdownIt

from regdash.figures.style import DARK, LIGHT
from regdash.output.table import Column
from regdash.summary.document import Document, Paragraph, Provenance, Section, Table
from regdash.summary.renderers import html, markdown, package, pdf, text, workbook
from regdash.summary.tables import plain_record
from tests.summary.made import QUARTER, Made, sections_of, sentences_of

NASTY = '<script>alert("x")</script> & =1+1 | `#set` *a* \\ "b" #panic() $x$ [c]'


class Tags(HTMLParser):
    """Reads a page, and holds that every element that opens is closed in order."""

    EMPTY = ("meta", "link", "br")

    def __init__(self, page: str) -> None:
        super().__init__()
        self.open: list[str] = []
        self.found: list[tuple[str, dict[str, str | None]]] = []
        self.texts: list[str] = []
        self.feed(page)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.found.append((tag, dict(attrs)))
        if tag not in self.EMPTY:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.found.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if "style" not in self.open:
            self.texts.append(data)

    def all(self, tag: str) -> list[dict[str, str | None]]:
        return [attributes for name, attributes in self.found if name == tag]


@pytest.fixture(scope="module")
def page(made: Made) -> Tags:
    return Tags(made.files["summary.html"].decode("utf-8"))


def test_the_page_is_whole_and_needs_nothing_from_elsewhere(page: Tags) -> None:
    assert page.open == []
    assert not page.all("script")
    references = [a.get(name) for _, a in page.found for name in ("href", "src", "xlink:href", "action") if a.get(name)]
    assert all(str(reference).startswith(("#", "data:")) for reference in references)
    assert "url(" not in html.page_css()
    assert "@import" not in html.page_css()


def test_anchors_are_unique_and_lead_somewhere(page: Tags) -> None:
    ids = [attributes["id"] for _, attributes in page.found if attributes.get("id")]
    assert len(ids) == len(set(ids))
    targets = [str(a["href"])[1:] for a in page.all("a") if str(a["href"]).startswith("#")]
    assert len(targets) > 40
    assert set(targets) <= set(ids)


def test_a_screen_reader_is_told_what_tables_and_figures_are(page: Tags, made: Made) -> None:
    """Techniques H39, H51, H63 (tables) and G94 (pictures) of the WCAG."""
    assert page.all("html")[0]["lang"] == "en-GB"
    assert len(page.all("table")) == len(page.all("caption")) == len(made.document.tables)
    assert all(th.get("scope") in ("col", "row") for th in page.all("th"))
    ids = {attributes.get("id") for _, attributes in page.found}
    pictures = page.all("svg")
    assert len(pictures) == len(made.document.figures) > 10
    for picture in pictures:
        assert picture["role"] == "img"
        assert set(str(picture["aria-labelledby"]).split()) <= ids
    assert all(len(figure.alt) > 40 for figure in made.document.figures)
    levels = [int(tag[1]) for tag, _ in page.found if re.fullmatch("h[1-6]", tag)]
    assert levels[0] == 1
    assert all(after <= before + 1 for before, after in pairwise(levels))


def luminance(colour: str) -> float:
    """Relative luminance as the WCAG defines it."""
    parts = [int(colour[n : n + 2], 16) / 255 for n in (1, 3, 5)]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return sum(weight * part for weight, part in zip((0.2126, 0.7152, 0.0722), linear))


def contrast(one: str, other: str) -> float:
    high, low = sorted((luminance(one), luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


@pytest.mark.parametrize(("colours", "paper"), [(LIGHT, "#ffffff"), (DARK, "#16181b")])
def test_lines_can_be_seen_in_light_and_dark(colours: tuple[str, ...], paper: str) -> None:
    """WCAG 2.2, 1.4.11: 3 to 1 for graphical objects."""
    assert min(contrast(colour, paper) for colour in colours) >= 3


def test_text_can_be_read_in_light_and_dark() -> None:
    """WCAG 2.2, 1.4.3: 4.5 to 1 for text."""
    themes = re.findall(r":root\{[^}]*--ink:[^}]*\}", html.page_css())
    assert len(themes) == 3  # light, dark, print
    for theme in themes:
        found = dict(re.findall(r"--([a-z]+):(#[0-9a-f]+)", theme))
        whole = {name: c if len(c) == 7 else "#" + "".join(2 * x for x in c[1:]) for name, c in found.items()}
        assert min(contrast(whole[name], whole["paper"]) for name in ("ink", "soft", "link")) >= 4.5


def test_the_pdf_is_tagged_and_dated_by_the_cut(made: Made) -> None:
    data = made.files["summary.pdf"]
    assert data.startswith(b"%PDF-")
    assert b"/StructTreeRoot" in data
    assert b"/Lang" in data
    assert re.search(rb"<pdfuaid:part>1</pdfuaid:part>", data)  # PDF/UA-1, ISO 14289-1
    assert made.document.title.encode() in data
    dates = re.findall(rb"(?:Creation|Mod)Date\(D:(\d{8})", data)
    assert dates
    assert set(dates) == {made.document.date.replace("-", "").encode()}


def test_the_workbook_is_dated_by_the_cut_and_has_no_formula(made: Made) -> None:
    with zipfile.ZipFile(io.BytesIO(made.files["summary.xlsx"])) as parts:
        core = parts.read("docProps/core.xml").decode()
        sheets = [parts.read(name).decode() for name in parts.namelist() if name.startswith("xl/worksheets/sheet")]
        assert {info.date_time for info in parts.infolist()} == {(1980, 1, 1, 0, 0, 0)}
    assert f"{made.document.date}T00:00:00Z" in core
    assert len(sheets) == len(made.document.tables) + 1
    assert not any("<f>" in sheet for sheet in sheets)


def test_sheets_have_names_that_a_workbook_may_have() -> None:
    """At most 31 characters, unique whatever their case (limits of the format, ECMA-376)."""
    names = workbook.sheet_names(
        [f"a-table-with-a-name-far-too-long-for-a-sheet-{n}" for n in range(120)] + ["CONTENTS"]
    )
    assert max(map(len, names.values())) <= 31
    assert len({name.lower() for name in names.values()} | {"contents"}) == 122


def test_markdown_has_every_table_with_all_its_rows(made: Made) -> None:
    """Read by a CommonMark parser with tables."""
    tokens = MarkdownIt("commonmark").enable("table").parse(made.files["summary.md"].decode())
    rows, tables = 0, []
    for token in tokens:
        if token.type == "tr_open":
            rows += 1
        if token.type == "table_close":
            tables.append(rows - 1)
            rows = 0
    assert tables == [table.height for table in made.document.tables if table.columns]
    headings = [token for token in tokens if token.type == "heading_open"]
    assert len(headings) == len(sections_of(made.document.sections)) + 1
    assert not any(token.type == "html_block" for token in tokens)


def test_text_fits_a_terminal_but_for_tables_that_cannot(made: Made) -> None:
    lines = made.files["summary.txt"].decode().splitlines()
    wide = [line for line in lines if len(line) > 79]
    assert len(wide) / len(lines) < 0.05
    assert max(map(len, lines)) <= 110


@pytest.mark.parametrize("form", ["html", "md", "pdf", "xlsx", "csv"])
def test_text_never_becomes_markup_a_command_or_a_formula(form: str) -> None:
    record = plain_record("x", ("word", "count"), [(NASTY, 1), ("=1+1", 2)])
    columns = (Column("word", [NASTY, "=1+1"], left=True), Column("count", ["1", "2"]))
    table = Table("x", NASTY, columns, record, Provenance("x", "", NASTY))
    document = Document(NASTY, NASTY, "2024-12-31", NASTY, (Section("s", NASTY, (Paragraph(NASTY), table)),))
    assert_text_stays_text(form, document)


def assert_text_stays_text(form: str, document: Document) -> None:
    """Read a form back and find the text as it was."""
    if form == "html":
        tags = Tags(html.render(document))
        assert tags.open == []
        assert not tags.all("script")
        assert tags.texts.count(NASTY) >= 5
    elif form == "md":
        tokens = MarkdownIt("commonmark").enable("table").parse(markdown.render(document))
        inline = [child for token in tokens for child in token.children or ()]
        assert not any(child.type in ("html_inline", "em_open", "link_open", "code_inline") for child in inline)
        assert not any(token.type == "html_block" for token in tokens)
    elif form == "pdf":
        assert pdf.render(document).startswith(b"%PDF-")
        assert pdf.quoted(NASTY) in pdf.source(document)
    elif form == "xlsx":
        with zipfile.ZipFile(io.BytesIO(workbook.render(document))) as parts:
            assert "<f>" not in parts.read("xl/worksheets/sheet2.xml").decode()
    else:
        assert "'=1+1,2" in package.render(document)["x.csv"].decode()


def test_a_document_without_tables_can_be_written_too() -> None:
    document = Document("Nothing", "2024Q4", "2024-12-31", "foot", (Section("s", "Empty", (Paragraph("None."),)),))
    assert "None." in text.render(document)
    assert pdf.render(document)
    assert workbook.render(document)
    assert package.render(document).keys() == {"datapackage.json"}


def test_a_withheld_figure_is_marked_and_never_blank(made: Made) -> None:
    """Where counts under ten are withheld as well, no cell of any form is empty, and each mark has its sentence."""
    from regdash.signals.desk import SignalsDesk
    from regdash.summary.build import build
    from regdash.summary.pinned import pinned_by_cut
    from regdash.summary.quarter import read_quarter

    desk = SignalsDesk(made.store, withhold_counts_under=10)
    few = replace(made.edition, sections=("activity", "risk", "reasons", "deaths"))
    document = build(desk, few, read_quarter(QUARTER), pinned_by_cut(made.store, desk.manifest))
    desk.close()
    marks = 0
    for table in document.tables:
        said = dict(table.notes)
        cells = [cell for column in table.columns if not column.left for cell in column.cells]
        cells += [cell for column in table.columns if "%" in column.heading for cell in column.cells]
        assert all(cell.strip() for cell in cells), table.name
        for cell in cells:
            for mark in re.findall(r"\[\d+\]", cell):
                marks += 1
                assert said[mark].startswith("withheld: ")
    assert marks > 40


CAUSAL = re.compile(r"\b(because|due to|caused|causes|leads? to|results? in|thanks to|owing to|safer|better|worse)\b")


def test_no_sentence_says_why(made: Made) -> None:
    said = [sentence for sentence in sentences_of(made.document) if re.search(r"\d", sentence)]
    assert len(said) > 30
    assert [sentence for sentence in said if CAUSAL.search(sentence)] == []


def estimates(made: Made) -> list[str]:
    return [said for said in sentences_of(made.document) if said.startswith("By ") and "an estimated" in said]


def test_a_sentence_on_risk_has_estimate_limits_denominator_and_period(made: Made) -> None:
    said: Any = estimates(made)
    assert len(said) > 10
    whole = re.compile(
        r"an estimated [\d.]+ % of .* \(95 % limits [\d.]+ to [\d.]+ %\): [\d,]+ revisions? by then "
        r"among [\d,]+ joints, "
        r"[\d,]+ still at risk at that time; primaries \d{4}-\d\d-\d\d to \d{4}-\d\d-\d\d, followed to \d{4}-\d\d-\d\d"
    )
    for sentence in said:
        assert all(whole.search(part) for part in re.findall(r"By .*?at the latest", sentence)), sentence
