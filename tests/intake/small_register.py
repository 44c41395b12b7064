"""
Small registers made by hand: submissions written as hospitals write them, a few rows each.

Everything is invented: hospitals H001 and H002, surgeon S0001, the implants KF-001/KT-001 (total, fixed bearing),
UF-001/UT-001/UI-001 (partial, mobile bearing) and the patients P000000001 onwards.
"""

import csv
import json
from pathlib import Path

from regdash.dictionary import KINDS, OFFICE, SCHEMA_VERSION, TABLES

Row = dict[str, str]

CATALOGUE = (
    ("KF001-3A", "M01", "KF-001", "femoral", "total", ""),
    ("KT001-3A", "M01", "KT-001", "tibial", "total", "fixed"),
    ("KI001-3A", "M01", "KI-001", "bearing insert", "total", "fixed"),
    ("KF002-3A", "M02", "KF-002", "femoral", "total", ""),
    ("UF001-3A", "M01", "UF-001", "femoral", "partial", ""),
    ("UT001-3A", "M01", "UT-001", "tibial", "partial", "mobile"),
    ("UI001-3A", "M01", "UI-001", "bearing insert", "partial", "mobile"),
)


def patient(number: int) -> str:
    """Pseudonym of the n-th patient."""
    return f"P{number:09d}"


def primary(operation_id: str, patient_no: int, day: str, **changes: str) -> Row:
    """A total knee on the left side, nothing missing."""
    row = {
        "operation_id": operation_id,
        "patient_id": patient(patient_no),
        "birth_year": "1950",
        "sex": "female",
        "joint": "knee",
        "side": "left",
        "operation_date": day,
        "hospital_id": operation_id[:4],
        "surgeon_id": "S0001",
        "kind": "primary",
        "class": "total",
        "bearing": "fixed",
        "constraint": "cruciate-retaining",
        "fixation": "cemented",
        "patella": "resurfaced",
        "approach": "medial-parapatellar",
        "technology": "conventional",
        "prophylaxis": "aspirin",
        "diagnosis": "osteoarthritis",
        "asa": "II",
        "bmi": "28.5",
    }
    return row | changes


def partial(operation_id: str, patient_no: int, day: str, **changes: str) -> Row:
    """A medial partial knee with a mobile bearing on the left side."""
    row = {"class": "partial", "compartment": "medial", "bearing": "mobile", "constraint": "", "patella": ""}
    return primary(operation_id, patient_no, day, **(row | changes))


def revision(operation_id: str, patient_no: int, day: str, **changes: str) -> Row:
    """A single-stage revision of everything on the left side."""
    row = {
        "kind": "revision",
        "stage": "single",
        "action": "all-components-exchanged",
        "stem_used": "yes",
        "augment_used": "no",
        "graft_used": "no",
        "class": "",
        "bearing": "",
        "constraint": "",
    }
    return primary(operation_id, patient_no, day, **(row | changes))


def component(operation_id: str, line: int, role: str, catalogue_no: str, action: str = "implanted") -> Row:
    """One component with a lot number of its own."""
    return {
        "operation_id": operation_id,
        "line_no": str(line),
        "role": role,
        "action": action,
        "catalogue_no": catalogue_no,
        "lot": f"L{line}",
    }


def total_knee(operation_id: str) -> list[Row]:
    """The components of a total knee."""
    parts = (("femoral", "KF001-3A"), ("tibial", "KT001-3A"), ("bearing-insert", "KI001-3A"))
    return [component(operation_id, n, role, number) for n, (role, number) in enumerate(parts, 1)]


def partial_knee(operation_id: str) -> list[Row]:
    """The components of a partial knee."""
    parts = (("femoral", "UF001-3A"), ("tibial", "UT001-3A"), ("bearing-insert", "UI001-3A"))
    return [component(operation_id, n, role, number) for n, (role, number) in enumerate(parts, 1)]


TOTAL = ("KF001-3A", "KT001-3A", "KI001-3A")
PARTIAL = ("UF001-3A", "UT001-3A", "UI001-3A")
# What a revision takes out and puts in, by its action; else the insert is exchanged.
EXCHANGES = {
    "all-components-exchanged": (TOTAL, TOTAL),
    "partial-to-total": (PARTIAL, TOTAL),
    "removal-with-spacer": (TOTAL, ()),
    "removal-without-replacement": (TOTAL, ()),
    "reimplantation": ((), TOTAL),
}


def exchanged(row: Row) -> list[Row]:
    """The components of a revision of a knee, as its action says."""
    removed, implanted = EXCHANGES.get(row["action"], (TOTAL[2:], TOTAL[2:]))
    role = {"F": "femoral", "T": "tibial", "I": "bearing-insert"}
    lines = [*((number, "removed") for number in removed), *((number, "implanted") for number in implanted)]
    return [
        component(row["operation_id"], n, role[number[1]], number, action)
        for n, (number, action) in enumerate(lines, 1)
    ]


def reason(operation_id: str, detail: str = "infection", leads: str = "yes", line: int = 1) -> Row:
    """One reason for a revision."""
    return {"operation_id": operation_id, "line_no": str(line), "reason": detail, "leads": leads}


class SmallRegister:
    """Writes submissions below a folder; sequences count by themselves."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.sequences: dict[tuple[str, str], int] = {}

    def submit(
        self,
        kind: str,
        received: str,
        tables: dict[str, list[Row]],
        *,
        sender: str = OFFICE,
        complete: str | None = None,
        sequence: int | None = None,
    ) -> Path:
        """Write one submission and give its folder; tables left out have no rows."""
        number = sequence or self.sequences.get((sender, kind), 0) + 1
        self.sequences[sender, kind] = number
        name = f"{sender}-{number:04d}" if kind == "operations" else f"{kind}-{number:04d}"
        folder = self.folder / name
        folder.mkdir(parents=True)
        files = {}
        for table in KINDS[kind].tables:
            rows = tables.get(table, [])
            write_table(folder / f"{table}.csv", table, rows)
            files[f"{table}.csv"] = len(rows)
        envelope = {
            "schema": SCHEMA_VERSION,
            "kind": kind,
            "sender": sender,
            "id": name,
            "sequence": number,
            "received_date": received,
            "complete_through": complete or received,
            "files": files,
        }
        (folder / "envelope.json").write_text(json.dumps(envelope))
        return folder

    def operations(
        self,
        received: str,
        operations: list[Row],
        components: list[Row] | None = None,
        reasons: list[Row] | None = None,
        *,
        hospital: str = "H001",
        complete: str | None = None,
        sequence: int | None = None,
        bare: bool = False,
    ) -> Path:
        """
        A hospital's submission. Where components are left out, each primary has those of its class; where reasons are,
        each revision has infection. A revision that lists nothing gets a line of cement, which says nothing of what
        was done; `bare` ones stay without any and are held.
        """
        if components is None:
            components = []
            for row in operations:
                if row["kind"] == "primary":
                    parts = partial_knee if row["class"] == "partial" else total_knee
                    components += parts(row["operation_id"])
        if not bare:
            listed = {line["operation_id"] for line in components}
            bare_rows = (r for r in operations if r["kind"] == "revision" and r["operation_id"] not in listed)
            components = [*components, *(component(r["operation_id"], 1, "cement", "") for r in bare_rows)]
        if reasons is None:
            reasons = [reason(row["operation_id"]) for row in operations if row["kind"] == "revision"]
        tables = {"operations": operations, "components": components, "reasons": reasons}
        return self.submit("operations", received, tables, sender=hospital, complete=complete, sequence=sequence)

    def catalogue(self, received: str = "2000-01-01", changes: dict[str, Row] | None = None) -> Path:
        """The catalogue that the components above stand in; changes are by catalogue number."""
        columns = ("catalogue_no", "maker", "implant", "role", "class", "bearing")
        rows = [dict(zip(columns, entry)) for entry in CATALOGUE]
        for row in rows:
            row |= {
                "role": row["role"].replace(" ", "-"),
                "joint": "knee",
                "size": "3",
                "introduced_date": "1995-01-01",
            } | (changes or {}).get(row["catalogue_no"], {})
        return self.submit("catalogue", received, {"catalogue": rows})

    def units(self, received: str = "2000-01-01", hospitals: tuple[str, ...] = ("H001", "H002")) -> Path:
        """The hospitals and the surgeon."""
        tables = {
            "hospitals": [{"hospital_id": code, "region": "R1", "active_from": "2000-01-01"} for code in hospitals],
            "surgeons": [{"surgeon_id": "S0001", "active_from": "2000-01-01"}],
        }
        return self.submit("units", received, tables)

    def deaths(self, received: str, dates: dict[int, str], complete: str | None = None) -> Path:
        """Deaths by patient number."""
        rows = [{"patient_id": patient(number), "death_date": day} for number, day in dates.items()]
        return self.submit("deaths", received, {"deaths": rows}, complete=complete)

    def losses(self, received: str, dates: dict[int, str], loss: str = "emigrated") -> Path:
        """Losses by patient number."""
        rows = [{"patient_id": patient(number), "loss_date": day, "loss": loss} for number, day in dates.items()]
        return self.submit("losses", received, {"losses": rows})


def write_table(path: Path, table: str, rows: list[Row]) -> None:
    """Write one file as the dictionary describes it."""
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, TABLES[table], restval="", lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)
