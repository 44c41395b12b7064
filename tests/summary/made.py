"""A summary of a small invented register, made once for all tests of the summary."""

from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path
from unittest import mock

from regdash.signals.desk import SignalsDesk
from regdash.store.requests import add_request, answer_request, close_request, name_of
from regdash.store.signal_reviews import RestsOn, Unit, decide
from regdash.summary.build import build
from regdash.summary.document import Document, Paragraph, Section
from regdash.summary.edition import Edition, read_edition
from regdash.summary.output import files_of, reproduction, write
from regdash.summary.pinned import pinned_by_cut
from regdash.summary.quarter import read_quarter
from tests.cuts import Row, joint, make_cut, random_joints

QUARTER = "2024Q3"  # the last in which the random joints have primaries
SHORT = """
version = "7"
title = "Ours"
joints = ["knee"]
years = [2]
reason_years = 5
horizon = 5
rows_on_paper = 25
sections = ["risk", "implants", "reproduction"]
[[risk]]
title = "By class"
by = "class"
filter = "joint=knee {words}"
[implants]
pages = 1
"""


@dataclass(frozen=True)
class Made:
    """A store, the document of its cut, and what was written of it."""

    store: Path
    desk: SignalsDesk
    edition: Edition
    document: Document
    files: dict[str, bytes]
    folder: Path


def register() -> list[Row]:
    """Joints of all kinds drawn at random, and an implant most of which fail early."""
    poor = [
        joint(
            construct="KF-099/KT-099",
            implanted_date=date(2010 + number % 10, 1 + number % 12, 1 + number % 28),
            days=120 + 7 * number if number % 2 else 1500 + number,
            ended="revised" if number % 2 else "in place",
            reason="infection" if number % 3 else "wear, bearing surface",
            hospital_id=f"H{1 + number % 5:03d}",
        )
        for number in range(120)
    ]
    return [*random_joints(1500, joints=("knee", "hip", "shoulder")), *poor]


def made_in(folder: Path, rows: list[Row] | None = None, own_edition: str = "") -> Made:
    """Make a cut of these joints, and its summary by the shipped edition or another, below a folder."""
    store = make_cut(folder / "store", register() if rows is None else rows, held=[(5, "side-missing")])
    if own_edition:
        (store / "editions").mkdir()
        (store / "editions" / "committee.toml").write_text(own_edition, encoding="utf-8")
    write_down(store)
    opened = SignalsDesk(store)
    edition, quarter = read_edition(store, "committee"), read_quarter(QUARTER)
    reviews = pinned_by_cut(store, opened.manifest)
    document = build(opened, edition, quarter, reviews)
    files = files_of(document, edition)
    write(folder / "summary", files, reproduction(opened, edition, quarter, reviews, None, files))
    return Made(store, opened, edition, document, files, folder / "summary")


def write_down(store: Path) -> None:
    """Let the office decide on signals and answer requests in the quarter and around it."""
    rests = RestsOn("2024-06-30.1", "test", "joint=knee", "1", "test")
    unit = Unit("implants", "knee", "total", "tibial", "KT-099")
    for at, state in (("2024-06-30", "under review"), ("2024-07-01", "watching"), ("2024-09-30", "closed")):
        with mock.patch("regdash.store.signal_reviews.now", return_value=f"{at}T12:00:00Z"):
            decide(store, unit, "every", state, "three hospitals were asked", rests)
    for number, kind in enumerate(("maker", "press", "maker", "researcher", "patient")):
        came = date(2024, 6, 20) + timedelta(days=9 * number)
        name = name_of(add_request(store, kind, "what was asked", came, came + timedelta(days=20)).request)
        if kind != "researcher":
            answer_request(store, name, came + timedelta(days=7 * number + 4), note="what was told")
    close_request(store, "R003", date(2024, 8, 1), "nothing more")


def sections_of(sections: tuple[Section, ...]) -> list[Section]:
    """Every section, however deep."""
    return [each for section in sections for each in (section, *sections_of(section.sections))]


def sentences_of(document: Document) -> list[str]:
    """Every sentence of running text."""
    own = tuple(section for section in document.sections if section.key != "cautions")  # these came with answers
    blocks = [block for section in sections_of(own) for block in section.blocks]
    items = [item for block in blocks for item in getattr(block, "items", ())]
    return [block.text for block in blocks if isinstance(block, Paragraph)] + items
