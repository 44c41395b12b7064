"""
A register drawn by chance, as tangled as its few patients can make it: the same serial numbers in several patients,
neighbouring pseudonyms, operations that are sent again as somebody else's, entries and units that come late or change.
"""

import random
from pathlib import Path

from tests.intake.small_register import Row, SmallRegister, component, primary, reason, revision

HOSPITALS = ("H001", "H002", "H003")
# Two that differ in one digit, two in neighbouring digits, and some like no other.
PATIENTS = (111_111_111, 111_111_121, 345_678_912, 345_687_912, 222_222_233, 777_000_777, 908_070_605, 135_792_468)
DAYS = tuple(f"{year}-{month:02d}-1{day}" for year in range(2004, 2008) for month in (2, 9) for day in (1, 2))
RECEIVED = tuple(f"20{year:02d}-01-15" for year in range(9, 14))
SERIALS = ("SN-4711", "SN-4712", "SN-4713", "SN-4714", "0000", "none")
TOTAL, PARTIAL = ("KF001-3A", "KT001-3A", "KI001-3A"), ("UF001-3A", "UT001-3A", "UI001-3A")
LATE = ("KF003-3A", "KT003-5A")  # in no catalogue but the second
STAGES = (
    ("single", "all-components-exchanged"),
    ("single", "bearing-exchange-only"),
    ("single", "partial-to-total"),
    ("first-of-two", "removal-with-spacer"),
    ("first-of-two", "removal-with-spacer"),
    ("second-of-two", "reimplantation"),
)
REASONS = ("infection", "loosening-tibial", "progression-of-disease", "wear-bearing-surface", "instability")


class ChanceRegister:
    """Draws submissions of hospitals and the office's lists, and writes them below a folder."""

    def __init__(self, folder: Path, seed: int) -> None:
        self.draw = random.Random(seed)
        self.register = SmallRegister(folder)
        self.sent: dict[str, tuple[Row, list[Row], list[Row]]] = {}

    def submissions(self, of_hospitals: int = 14) -> list[Path]:
        """Write the office's lists, deaths and losses, and so many submissions of hospitals."""
        folders = self._lists()
        for _ in range(3):
            folders += [self._deaths(), self._losses()]
        return folders + [self._operations() for _ in range(of_hospitals)]

    def _lists(self) -> list[Path]:
        register = self.register
        others = [("KF003-3A", "KF-003", "femoral", "fixed"), ("KT003-5A", "KT-001", "tibial", "fixed")]
        later = [_entry(*other) for other in others]
        # An implant by another name, and another bearing: what the first catalogue said of both is wrong.
        changed = [_entry("KF002-3A", "KF-001", "femoral", ""), _entry("KT001-3A", "KT-001", "tibial", "mobile")]
        units = {
            "hospitals": [
                {"hospital_id": "H003", "region": "R2", "active_from": "2005-06-01"},
                {"hospital_id": "H002", "region": "R1", "active_from": "2000-01-01", "active_to": "2006-12-31"},
            ],
            "surgeons": [
                {"surgeon_id": "S0002", "active_from": "2000-01-01"},
                {"surgeon_id": "S0001", "active_from": "2005-01-01"},
            ],
            "systems": [{"hospital_id": "H001", "technology_system": "RS-1", "active_from": "2005-01-01"}],
        }
        pairs = [{"implant": "KF-001", "paired_implant": "KT-001", "size_steps": "1"}]
        return [
            register.catalogue("2008-01-01"),
            register.units("2008-01-01", ("H001", "H002")),
            register.submit("units", "2011-01-20", units),
            register.submit("catalogue", "2010-06-01", {"catalogue": later}),
            register.submit("catalogue", "2011-06-01", {"catalogue": changed}),
            register.submit("catalogue", "2012-06-01", {"pairs": pairs}),
        ]

    def _deaths(self) -> Path:
        dates = {self._patient(): self.draw.choice(DAYS) for _ in range(2)}
        return self.register.deaths(self.draw.choice(RECEIVED), dates)

    def _losses(self) -> Path:
        return self.register.losses(self.draw.choice(RECEIVED), {self._patient(): self.draw.choice(DAYS)})

    def _patient(self) -> int:
        return self.draw.choice(PATIENTS)

    def _operations(self) -> Path:
        hospital = self.draw.choice(HOSPITALS)
        own = [number for number in self.sent if number.startswith(hospital)]
        again = self.draw.sample(own, min(len(own), self.draw.randrange(3)))
        records = [self._changed(number) for number in again]
        records += [self._drawn(hospital) for _ in range(self.draw.randint(1, 4))]
        self.sent |= {record[0]["operation_id"]: record for record in records}
        operations = [operation for operation, _, _ in records]
        parts = [part for _, listed, _ in records for part in listed]
        reasons = [one for _, _, given in records for one in given]
        received = self.draw.choice(RECEIVED)
        return self.register.operations(received, operations, parts, reasons, hospital=hospital)

    def _drawn(self, hospital: str) -> tuple[Row, list[Row], list[Row]]:
        number = f"{hospital}-{len(self.sent) + self.draw.randrange(10**6):07d}"
        patient, day = self._patient(), self.draw.choice(DAYS)
        said = {
            "side": self._mostly("left", "right"),
            "sex": self._mostly("female", "male"),
            "birth_year": self._mostly("1950", "1951"),
            "surgeon_id": self._mostly("S0001", "S0002"),
            "joint": "knee",
        }
        if self.draw.random() < 0.2:
            said |= {"technology": "robotic", "technology_system": "RS-1"}
        if self.draw.random() < 0.55:
            whole = self.draw.random() < 0.7
            of_class = {"class": "total"} if whole else {"class": "partial", "compartment": "medial", "constraint": ""}
            operation = primary(number, patient, day, **(said | of_class))
            return operation, self._parts(number, TOTAL if whole else PARTIAL, "implanted"), []
        stage, action = self.draw.choice(STAGES)
        operation = revision(number, patient, day, **(said | {"stage": stage, "action": action}))
        removed = [] if action == "reimplantation" else self._parts(number, TOTAL, "removed")
        put_in = [] if action == "removal-with-spacer" else self._parts(number, TOTAL, "implanted", 4)
        return operation, removed + put_in, [reason(number, self.draw.choice(REASONS))]

    def _parts(self, number: str, catalogue: tuple[str, ...], action: str, first: int = 1) -> list[Row]:
        lines = []
        for line, (role, entry) in enumerate(zip(("femoral", "tibial", "bearing-insert"), catalogue), first):
            other = {"femoral": ("KF002-3A", "KF003-3A"), "tibial": ("KT003-5A",)}.get(role, (entry,))
            chosen = entry if self.draw.random() < 0.85 else self.draw.choice(other)
            part = component(number, line, role, chosen, action)
            if self.draw.random() < 0.08:
                part |= {"serial": self.draw.choice(SERIALS)}
            lines.append(part)
        return lines

    def _changed(self, number: str) -> tuple[Row, list[Row], list[Row]]:
        """The same again, or with one thing changed."""
        operation, parts, reasons = self.sent[number]
        changes = (
            {"patient_id": f"P{self._patient():09d}"},
            {"side": "right"},
            {"operation_date": self.draw.choice(DAYS)},
            {"birth_year": "1951"},
            {"operation_date": "2007-02-30"},  # rejected
            {},
        )
        if self.draw.random() < 0.3:
            parts = [part | {"serial": self.draw.choice(SERIALS)} for part in parts]
        return operation | self.draw.choice(changes), parts, reasons

    def _mostly(self, usual: str, other: str) -> str:
        return usual if self.draw.random() < 0.8 else other


def _entry(catalogue_no: str, implant: str, role: str, bearing: str) -> Row:
    """An entry for total knees."""
    return {
        "catalogue_no": catalogue_no,
        "maker": "M01",
        "implant": implant,
        "role": role,
        "joint": "knee",
        "class": "total",
        "bearing": bearing,
        "size": catalogue_no[-2],
        "introduced_date": "1995-01-01",
    }
