"""Two data cuts of one made register for a hostile reader: small hospitals, overlapping implants."""

from datetime import date, timedelta
from pathlib import Path

import numpy as np

from regdash.store.cuts import cut_path
from tests.cuts import Row, component, joint, make_cut
from tests.summary.attack.folder import Folder
from tests.summary.attack.given import given
from tests.summary.attack.reader import Attack
from tests.summary.attack.register import Register, register

SOONER, BETWEEN, LATER = "2024-09-30.1", "2024-10-31.1", "2024-12-31.1"
REASONS = ("loosening, tibial", "infection", "instability", "wear, bearing surface", "stiffness", "breakage")
SHARES = (0.4, 0.25, 0.15, 0.1, 0.07, 0.03)
HOSPITALS = ("H001", "H002", "H003", "H004", "H005")
SURGEONS = {"H001": 4, "H002": 3, "H003": 2, "H004": 1, "H005": 1}


def rows(seed: int, number: int) -> list[Row]:
    """Draw knees up to the end of 2024."""
    draw = np.random.default_rng(seed)
    return [_row(draw) for _ in range(number)]


def _row(draw: np.random.Generator) -> Row:
    hospital = str(draw.choice(HOSPITALS, p=[0.42, 0.3, 0.2, 0.06, 0.02]))
    is_partial = draw.random() < (0.25 if hospital == "H001" else 0.04)
    day = date(2012, 1, 1) + timedelta(days=int(4747 * draw.random() ** 0.7))
    followed = (date(2024, 12, 31) - day).days
    failed = int(draw.exponential(30000 if is_partial else 45000))
    pick = lambda share: draw.random() < share  # noqa: E731
    family = str(draw.choice(["1", "2", "3"], p=[0.5, 0.3, 0.2]))
    tray, insert = ("4" if pick(0.01) else family), ("5" if pick(0.004) else family)
    used = [
        component("femoral", f"KF-00{family}", maker=f"M0{1 + (family == '3')}"),
        component("tibial", f"KT-00{tray}", maker=f"M0{1 + (tray == '3')}"),
        component("bearing insert", f"KI-00{insert}", maker=f"M0{1 + (insert == '3')}"),
    ]
    return joint(
        class_="partial" if is_partial else "total",
        components=used,
        construct=f"KF-00{family}/KT-00{tray}",
        age=int(np.clip(draw.normal(69, 9), 42, 93)),
        implanted_date=day,
        days=min(failed, followed),
        ended="revised" if failed < followed else "in place",
        reason=str(draw.choice(REASONS, p=SHARES)) if failed < followed else None,
        hospital_id=hospital,
        surgeon_id=f"S{hospital[1:]}{int(draw.integers(SURGEONS[hospital]))}",
    )


def two_cuts(store: Path, seed: int, number: int) -> Path:
    """Make the cut of a quarter, and that of the next: with its primaries, two late ones, and new revisions."""
    last = rows(seed, number)
    end = date(2024, 9, 30)
    late = [n for n, row in enumerate(last) if date(2024, 7, 1) <= row["implanted_date"] <= end][:2]
    known = [_as_of(row, end) for n, row in enumerate(last) if row["implanted_date"] <= end and n not in late]
    make_cut(store, known, name=SOONER, deaths_through="2024-09-30")
    return make_cut(store, last, name=LATER)


def _as_of(row: Row, end: date) -> Row:
    followed = (end - row["implanted_date"]).days
    if row["days"] <= followed:
        return row
    return row | {"days": followed, "ended": "in place", "reason": None}


class Office:
    """What an office gives out of both quarters, and attacks on it."""

    def __init__(self, store: Path, folder: Path) -> None:
        self.store, self.folder = store, folder
        self.registers: dict[str, Register] = {
            cut: register(store, cut) for cut in (SOONER, BETWEEN, LATER) if cut_path(store, cut).exists()
        }
        self.number = 0

    def gives(self, reader: str, quarter: str = "2024Q4", cut: str = LATER, previous: Folder | None = None) -> Folder:
        self.number += 1
        path = self.folder / f"{self.number}"
        return given(self.store, cut, quarter, reader, path, previous.path if previous else None)

    def public(self) -> list[Folder]:
        """Everybody's editions: a quarter, that quarter told again from the later cut, and the next one."""
        first = self.gives("public", "2024Q3", SOONER)
        return [first, self.gives("public", "2024Q3", LATER, first), self.gives("public", "2024Q4", LATER, first)]

    def attack(self, folders: list[Folder], **more: object) -> Attack:
        return Attack(folders, self.registers, **more).run()  # type: ignore[arg-type]
