"""
A small register drawn at random, with three joints, late rows and corrections, for tests of records and their quality.

Every row that was sent is kept beside, so that a test can count afresh from what hospitals wrote.
"""

import random
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date, timedelta
from pathlib import Path

from tests.intake.other_joints import catalogue, primary_of
from tests.intake.other_joints import parts as listed
from tests.intake.small_register import Row, SmallRegister, primary, revision, total_knee

HOSPITALS = ("H001", "H002", "H003")
FIRST, LAST = date(2006, 1, 1), date(2007, 12, 31)
KINDS_OF_PRIMARY = ("total knee", "total hip", "reverse shoulder")
# What a revision exchanges: catalogue number by joint.
EXCHANGED = {"knee": "KI001-3A", "hip": "HH001-36A", "shoulder": "SO001-38A"}
BLANK = ("bmi", "asa", "approach", "diagnosis", "technology")  # cells that are left empty now and then


@dataclass
class Sent:
    """One operation as it was first sent, the day it came, and what was sent later in its place."""

    row: Row
    components: list[Row]
    received: date
    corrected: Row | None = None

    @property
    def standing(self) -> Row:
        return self.corrected or self.row


@dataclass
class Drawn:
    """Everything that was sent."""

    folder: Path
    operations: list[Sent] = field(default_factory=list)
    admin: list[tuple[str, str, str, date, int]] = field(default_factory=list)  # hospital, joint, kind, month, count


def draw_register(folder: Path, seed: int, joints: int = 60) -> Drawn:
    """Write the submissions of a random register below a folder."""
    draw = random.Random(seed)
    drawn = Drawn(folder)
    for number in range(1, joints + 1):
        drawn.operations += _lives(draw, number)
    drawn.admin = list(_admin(draw, drawn.operations))
    _submit(SmallRegister(folder), drawn)
    return drawn


def _lives(draw: random.Random, number: int) -> Iterator[Sent]:
    hospital, kind = draw.choice(HOSPITALS), draw.choice(KINDS_OF_PRIMARY)
    day = FIRST + timedelta(days=draw.randrange((LAST - FIRST).days))
    operation = f"{hospital}-{number:07d}"
    if kind == "total knee":
        row, components = primary(operation, number, day.isoformat()), total_knee(operation)
    else:
        row, components = primary_of(kind, operation, number, day.isoformat())
    row |= {name: "" for name in BLANK if draw.random() < 0.15}
    yield _sent(draw, row, components, day)
    if draw.random() < 0.4 and (later := day + timedelta(days=draw.randrange(1, 300))) <= LAST:
        other = f"{draw.choice(HOSPITALS)}-{9_000_000 + number}"
        changes = {"joint": row["joint"], "patella": "", "action": "bearing-exchange-only"}
        again = revision(other, number, later.isoformat(), **changes)
        yield _sent(draw, again, _exchange(other, row["joint"]), later)


def _exchange(operation: str, joint: str) -> list[Row]:
    """One component out and the same in again."""
    number = EXCHANGED[joint]
    lines = listed(operation, [(number, "removed"), (number, "implanted")])
    return [line | {"role": "bearing-insert"} for line in lines] if joint == "knee" else lines


def _sent(draw: random.Random, row: Row, components: list[Row], day: date) -> Sent:
    received = day + timedelta(days=int(draw.expovariate(1 / 45)))
    sent = Sent(row, components, received)
    if draw.random() < 0.2:
        sent.corrected = row | {"asa": "III", "bmi": "31.5"}
    return sent


def _admin(draw: random.Random, operations: list[Sent]) -> Iterator[tuple[str, str, str, date, int]]:
    """Counts by cell: right, too high, too low or missing."""
    cells: dict[tuple[str, str, str, date], int] = {}
    for sent in operations:
        row, day = sent.row, date.fromisoformat(sent.row["operation_date"])
        key = (row["hospital_id"], row["joint"], row["kind"], day.replace(day=1))
        cells[key] = cells.get(key, 0) + 1
    for cell, count in sorted(cells.items()):
        if draw.random() < 0.85:
            yield *cell, max(0, count + draw.choice((-1, 0, 0, 0, 1, 2)))
    yield "H001", "knee", "primary", date(2007, 11, 1), 4


def _submit(register: SmallRegister, drawn: Drawn) -> None:
    """Send each operation on the day it came; corrections come in the last submission of its hospital."""
    register.catalogue()
    catalogue(register)
    register.units(hospitals=HOSPITALS)
    reported = {"H001": "2007-12-31", "H002": "2007-10-15", "H003": "2007-12-31"}
    for hospital in HOSPITALS:
        own = [sent for sent in drawn.operations if sent.row["hospital_id"] == hospital]
        for day in sorted({sent.received for sent in own}):
            today = [sent for sent in own if sent.received == day]
            parts = [line for sent in today for line in sent.components]
            rows = [sent.row for sent in today]
            complete = min((day - timedelta(days=20)).isoformat(), reported[hospital])
            register.operations(day.isoformat(), rows, parts, hospital=hospital, complete=complete)
        again = [sent for sent in own if sent.corrected]
        parts = [line for sent in again for line in sent.components]
        rows = [sent.standing for sent in again]
        register.operations("2009-06-30", rows, parts, hospital=hospital, complete=reported[hospital])
    register.deaths("2009-06-30", {}, complete="2007-11-30")
    columns = ("hospital_id", "joint", "kind", "month", "operations")
    rows = [dict(zip(columns, (h, j, k, f"{m:%Y-%m}", str(n)))) for h, j, k, m, n in drawn.admin]
    register.submit("admin_counts", "2009-06-30", {"admin_counts": rows}, complete="2007-12-31")
