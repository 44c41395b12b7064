"""
Everybody's edition: it is easy to read, gives no advice to one person, and sends its readers to their surgeon.

Reading age: the grade of Kincaid, Fishburne, Rogers & Chissom (1975), Naval Technical Training Command, Research Branch
Report 8-75, plus five years (a child in the first grade is six: common practice).
"""

import re
from pathlib import Path

import pytest

from regdash.summary.build import build
from regdash.summary.document import Bullets, Paragraph, Warned
from regdash.summary.edition import read_edition
from regdash.summary.pinned import pinned_by_cut
from regdash.summary.quarter import read_quarter
from regdash.summary.recipient import read_recipient
from tests.cli.asking import regdash
from tests.summary.made import Made, sections_of

SYLLABLES = {  # as dictionaries divide them
    "joint": 1, "operation": 4, "replaced": 2, "surgeon": 2, "people": 2, "number": 2, "infection": 3, "table": 2,
    "shoulder": 2, "numbers": 2, "loose": 1, "arthritis": 3, "hospital": 3, "changed": 1, "doctor": 2, "reaction": 3,
}  # fmt: skip


def syllables(word: str) -> int:
    """Count groups of vowels, less a silent e at the end; at least one."""
    found = re.sub(r"(?<![aeiouyl])(e|ed|es)$|(?<=[aeiouy]l)e$", "", word.lower())
    if word.lower().endswith(("ted", "ded", "ses", "ges", "ces")):
        found = word.lower()
    return max(len(re.findall(r"[aeiouy]+", re.sub(r"(?<=[iu])(?=[ao]ct)", "-", found))), 1)


def reading_age(text: str) -> float:
    sentences = [part for part in re.split(r"(?<=[.!?])\s+", text) if re.search(r"[A-Za-z]", part)]
    words = re.findall(r"[A-Za-z']+", text)
    grade = 0.39 * len(words) / len(sentences) + 11.8 * sum(map(syllables, words)) / len(words) - 15.59
    return grade + 5


@pytest.fixture(scope="module")
def public(made: Made):
    edition = read_edition(made.store, "public")
    reviews = pinned_by_cut(made.store, made.desk.manifest)
    return build(made.desk, edition, read_quarter("2024Q3"), reviews, recipient=read_recipient("public")), edition


def prose(document) -> list[str]:
    said = []
    for section in sections_of(document.sections):
        for block in section.blocks:
            said += [block.text] if isinstance(block, (Paragraph, Warned)) else []
            said += block.items if isinstance(block, Bullets) else []
    return said


def test_syllables_are_counted_nearly_as_dictionaries_do() -> None:
    wrong = [word for word, number in SYLLABLES.items() if syllables(word) != number]
    assert len(wrong) <= 2, wrong


def test_the_stated_reading_age_is_kept(public) -> None:
    document, edition = public
    said = prose(document)
    assert len(" ".join(said).split()) > 250
    assert reading_age(" ".join(said)) <= edition.reading_age
    assert reading_age("Notwithstanding considerable heterogeneity, revision probability estimates deteriorate.") > 20


def test_it_says_its_reading_age_and_sends_to_the_surgeon_first_and_last(public) -> None:
    document, _ = public
    said = prose(document)
    assert "not advice for you" in said[0]
    assert "speak with your surgeon" in said[0]
    assert "your surgeon or your doctor" in said[-1]
    assert not [one for one in said if re.search(r"\b(you should|you must|you need)\b", one, re.I)]


def test_risks_are_whole_people_of_100_and_those_of_the_command_line(made: Made, public) -> None:
    document, _ = public
    table = next(table for table in document.tables if table.name == "risk-a-new-shoulder")
    words = ("risk", "joint=shoulder", "--years", "1,5,10", "--view", "patient", "--json")
    told = {row["years"]: row["estimate"] for row in regdash(*words, store=made.store).json["rows"]}
    shown = {row["years"]: row["in_100"] for row in table.record.rows if row.get("in_100") is not None}
    assert shown == {year: round(100 * told[year]) for year in shown}
    assert len(shown) > 1  # one may be left out, since with its own joints a unit would be told a small count of others
    picture = next(figure for figure in document.figures if figure.table == table.name).picture
    assert sum(mark.get("class") == "f0" for mark in picture.marks) == sum(shown.values())


def test_it_is_made_again_and_names_nobody(made: Made, tmp_path: Path) -> None:
    folder = tmp_path / "public"
    assert regdash("summary", "2024Q3", "--for", "public", "--out", folder, store=made.store).code == 0
    assert regdash("verify", folder, store=made.store).code == 0
    text = (folder / "summary.txt").read_text(encoding="utf-8")
    assert not re.findall(r"\b[HSK][A-Z]?-?\d{3,4}\b", text)
