"""A store with one poor implant, and the evidence on it, made once for all tests of the summary."""

from dataclasses import dataclass
from datetime import date
from pathlib import Path

from regdash.cohort import parse
from regdash.signals.desk import SignalsDesk
from regdash.summary.document import Document
from regdash.summary.edition import SHIPPED, read_edition
from regdash.summary.evidence import build_evidence, find_unit
from regdash.summary.pinned import pinned_by_cut
from tests.cli.asking import regdash
from tests.cuts import Row, component, joint, make_cut, random_joints

WHY = "asked hospital H001 for its records"
PAIN = (1, 3, 5)  # of 60 revised joints, those revised for pain
EARLY = 7  # the one that was implanted before 2010


def poor(number: int) -> Row:
    """One of 120 knees of five hospitals and fifteen surgeons, every other one revised; a third has the size 7."""
    revised = number % 2 == 1
    parts = [component("femoral", "KF-099"), component("tibial", "KT-099", size="7" if number % 3 == 0 else "5")]
    return joint(
        construct="KF-099/KT-099",
        components=parts,
        implanted_date=date(2010 + number % 10 if number != EARLY else 2008, 1 + number % 12, 1 + number % 28),
        days=120 + 7 * number if revised else 1500 + number,
        ended="revised" if revised else "in place",
        reason="pain, unexplained" if number in PAIN else "infection" if number % 3 else "wear, bearing surface",
        age=55 + number % 30,
        sex="female" if number % 4 else "male",
        hospital_id=f"H{1 + number % 5:03d}",
        surgeon_id=f"S{1 + number % 15:04d}",
    )


@dataclass(frozen=True)
class Packed:
    """A store, and the document and folder of its pack for the committee."""

    store: Path
    document: Document
    folder: Path


def lone(number: int) -> Row:
    """One of 40 knees with another implant, all of two hospitals, every fourth one revised."""
    revised = number % 4 == 0
    return joint(
        construct="KF-098/KT-098",
        implanted_date=date(2012, 1 + number % 12, 1 + number % 28),
        days=200 + number if revised else 1800 + number,
        ended="revised" if revised else "in place",
        reason="infection",
        hospital_id=f"H{1 + number % 2:03d}",
    )


def by_one(number: int) -> Row:
    """The same of one surgeon, who works at four hospitals."""
    changed = {"construct": "KF-097/KT-097", "hospital_id": f"H{1 + number % 4:03d}", "surgeon_id": "S0001"}
    return lone(number) | changed | {"components": None}


def packed_in(place: Path) -> Packed:
    """Make the store below a folder, take a decision, and pack it for the committee."""
    rows = [
        *random_joints(1500, joints=("knee", "hip")),
        *map(poor, range(120)),
        *map(lone, range(40)),
        *map(by_one, range(40)),
    ]
    store = make_cut(place / "store", rows)
    without_history(store)
    said = regdash("signals", "decide", "KT-099", "under-review", "joint=knee", "--why", WHY, store=store)
    assert said.code == 0, said.stderr
    said = regdash("evidence", "KT-099", "--out", place / "pack", store=store)
    assert said.code == 0, said.stderr
    return Packed(store, document_of(store, "KT-099"), place / "pack")


def without_history(store: Path) -> None:
    """Give a store editions of its own: the shipped ones, without past quarters, of which an invented cut has none."""
    (store / "editions").mkdir(exist_ok=True)
    for name in ("evidence", "evidence-maker"):
        text = (SHIPPED / f"{name}.toml").read_text(encoding="utf-8")
        (store / "editions" / f"{name}.toml").write_text(text.replace('"history", ', ""), encoding="utf-8")


def document_of(store: Path, code: str, name: str = "evidence") -> Document:
    desk = SignalsDesk(store)
    try:
        unit, cohort = find_unit(desk, parse(()), code)
        reviews = pinned_by_cut(store, desk.manifest)
        return build_evidence(desk, read_edition(store, name), unit, cohort, reviews, None)
    finally:
        desk.close()
