"""One large register in which every rule has rows of its own that break it."""

from collections.abc import Callable
from dataclasses import dataclass, field

from tests.intake.small_register import (
    CATALOGUE,
    Row,
    SmallRegister,
    exchanged,
    partial_knee,
    patient,
    primary,
    reason,
    total_knee,
)


@dataclass
class Bench:
    """The rows of one large register in which each case has patients and numbers of its own."""

    operations: list[Row] = field(default_factory=list)
    components: list[Row] = field(default_factory=list)
    reasons: list[Row] = field(default_factory=list)
    catalogue: list[Row] = field(default_factory=list)
    hospitals: list[Row] = field(default_factory=list)
    surgeons: list[Row] = field(default_factory=list)
    pairs: list[Row] = field(default_factory=list)
    systems: list[Row] = field(default_factory=list)
    deaths: list[Row] = field(default_factory=list)
    losses: list[Row] = field(default_factory=list)
    admin_counts: list[Row] = field(default_factory=list)

    def add(self, row: Row, parts: list[Row] | None = None, reasons: list[Row] | None = None) -> str:
        """Add an operation with its components and reasons, and give its number."""
        number = row["operation_id"]
        if parts is None:
            parts = []
            if row["kind"] == "primary":
                parts = partial_knee(number) if row["class"] == "partial" else total_knee(number)
            elif row["kind"] == "revision":
                parts = exchanged(row)
        if reasons is None:
            reasons = [reason(number)] if row["kind"] == "revision" else []
        self.operations.append(row)
        self.components += parts
        self.reasons += reasons
        return number


def number(n: int, k: int = 0) -> str:
    return f"H001-{n:05d}{k:02d}"


DAY, LATER = "2004-05-03", "2006-05-03"
Case = Callable[[Bench, int], str]
CASES: dict[tuple[str, str], Case] = {}


def case(relation: str, rule: str) -> Callable[[Case], Case]:
    def keep(made: Case) -> Case:
        CASES[relation, rule] = made
        return made

    return keep


def entry(n: int, **changes: str) -> Row:
    row = {"catalogue_no": f"C{n}", "maker": "M01", "implant": "KF-001", "role": "femoral", "joint": "knee"}
    return row | {"class": "total", "size": "3", "introduced_date": "1995-01-01"} | changes


def death(n: int, day: str = "2004-09-01") -> Row:
    return {"patient_id": patient(n), "death_date": day}


def loss(n: int, day: str = "2004-09-01", kind: str = "emigrated") -> Row:
    return {"patient_id": patient(n), "loss_date": day, "loss": kind}


def write(register: SmallRegister, bench: Bench, received: str = "2010-01-01") -> None:
    columns = ("catalogue_no", "maker", "implant", "role", "class", "bearing")
    usual = [
        dict(zip(columns, row)) | {"role": row[3].replace(" ", "-"), "joint": "knee", "size": "3"} for row in CATALOGUE
    ]
    stem = entry(0, catalogue_no="KS001-3A", implant="KS-001", role="stem", constraint="hinged")
    register.submit("catalogue", received, {"catalogue": [*usual, stem, *bench.catalogue], "pairs": bench.pairs})
    units = {
        "hospitals": [{"hospital_id": "H001", "active_from": "2000-01-01"}, *bench.hospitals],
        "surgeons": [{"surgeon_id": "S0001"}, {"surgeon_id": "S0002", "active_to": "2001-01-01"}, *bench.surgeons],
        "systems": bench.systems,
    }
    register.submit("units", received, units)
    register.submit("deaths", received, {"deaths": bench.deaths})
    register.submit("losses", received, {"losses": bench.losses})
    register.submit("admin_counts", received, {"admin_counts": bench.admin_counts})
    register.operations(received, bench.operations, bench.components, bench.reasons, bare=True)
    register.operations(received, [primary("H003-0000001", 998, DAY)], hospital="H003")
