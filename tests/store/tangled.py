"""
A register made by hand in which what comes later bears on other patients than those it speaks of.
"""

from dataclasses import dataclass
from pathlib import Path

from tests.intake.small_register import Row, SmallRegister, component, primary, revision, total_knee

BY_A_LATE_SURGEON, OF_A_LATE_HOSPITAL, WITH_A_LATE_SYSTEM, OF_A_LATE_IMPLANT = 1, 2, 3, 4
NAMED_ALIKE, RENAMED, NAMED_APART, NO_MORE = 11, 12, 13, 14
FIRST, SECOND, THIRD = 21, 22, 23  # the second shares one serial number with the first and another with the third
DIES, LEAVES, GIVEN_AWAY, GIVEN_TO = 31, 32, 33, 34
WAITING, WAITING_LATER, UNFIT = 41, 42, 51
MISSPELT, MEANT = 888_000_178, 888_000_187
JOINED = ("H001-0000063", "H001-8000187")  # the revision under the pseudonym that was misspelt, and its primary


@dataclass(frozen=True)
class Step:
    """Submissions that come together, and the rules that then find something which they did not before, or no more."""

    folders: list[Path]
    begin: frozenset[str] = frozenset()
    end: frozenset[str] = frozenset()


def steps(folder: Path) -> list[Step]:
    """Write the register below a folder."""
    register = SmallRegister(folder)
    return [_first(register), _news(register), _lists(register), _pairs(register), _system_named(register)]


def _number(patient: int, hospital: str = "H001") -> str:
    return f"{hospital}-{patient % 10**7:07d}"


def _primary(patient: int, day: str = "2005-03-01", hospital: str = "H001", **said: str) -> Row:
    return primary(_number(patient, hospital), patient, day, **said)


def _parts(operation: Row, femoral: str = "KF001-3A", serial: str = "", tibial_serial: str = "") -> list[Row]:
    first, second, *others = total_knee(operation["operation_id"])
    return [first | {"catalogue_no": femoral, "serial": serial}, second | {"serial": tibial_serial}, *others]


def _entry(catalogue_no: str, implant: str) -> Row:
    said = {"maker": "M01", "role": "femoral", "joint": "knee", "class": "total", "size": catalogue_no[6]}
    return said | {"catalogue_no": catalogue_no, "implant": implant, "introduced_date": "1995-01-01"}


def _first(register: SmallRegister) -> Step:
    """All of them, as far as they are known at first."""
    others = [_entry("KF004-3A", "KF-001"), _entry("KF005-9A", "KF-005")]
    folders = [
        register.catalogue(),
        register.units(),
        register.submit("catalogue", "2000-01-02", {"catalogue": others}),
    ]
    folders.append(register.submit("units", "2000-01-02", {"systems": [_system("RS-1")]}))
    late = _primary(BY_A_LATE_SURGEON, surgeon_id="S0002")
    robot = _primary(WITH_A_LATE_SYSTEM, technology="robotic", technology_system="RS-2")
    unknown = [_primary(patient) for patient in (OF_A_LATE_IMPLANT, DIES, GIVEN_AWAY)]
    plain = [_primary(patient) for patient in (LEAVES, WAITING, WAITING_LATER)]
    first_stage = {"stage": "first-of-two", "action": "removal-with-spacer"}
    waits = revision(_number(61), WAITING, "2007-03-01", **first_stage)
    waits_later = revision(_number(62), WAITING_LATER, "2007-10-01", **first_stage)
    open_revision = revision(_number(63), MISSPELT, "2007-05-02")
    revised = [waits, waits_later, open_revision]
    rows = [late, robot, *unknown, *plain, *revised]
    parts = [part for row in (late, robot, *plain) for part in _parts(row)]
    parts += [part for row in unknown for part in _parts(row, "KF003-3A")]
    parts += [component(row["operation_id"], 1, "femoral", "KF001-3A", "removed") for row in revised]
    shared = {
        NAMED_ALIKE: ("KF001-3A", "SN-4711"),
        RENAMED: ("KF002-3A", "SN-4711"),
        NAMED_APART: ("KF001-3A", "SN-4712"),
        NO_MORE: ("KF004-3A", "SN-4712"),
        UNFIT: ("KF005-9A", ""),
    }
    for patient, (femoral, serial) in shared.items():
        rows.append(_primary(patient))
        parts += _parts(rows[-1], femoral, serial)
    for patient, serials in {SECOND: ("SN-5002", "SN-5001"), THIRD: ("", "SN-5001")}.items():
        rows.append(_primary(patient))
        parts += _parts(rows[-1], "KF001-3A", *serials)
    folders.append(register.operations("2008-01-15", rows, parts, complete="2007-12-31"))
    elsewhere = _primary(OF_A_LATE_HOSPITAL, hospital="H003")
    folders.append(register.operations("2008-01-15", [elsewhere], hospital="H003", complete="2007-12-31"))
    found = {"surgeon-unknown", "hospital-unknown", "technology-system-unknown", "catalogue-number-unknown"}
    return Step(folders, begin=frozenset(found | {"serial-repeated"}))


def _system(code: str) -> Row:
    return {"hospital_id": "H001", "technology_system": code}


def _news(register: SmallRegister) -> Step:
    """
    A death, a loss, one more of a serial number, an operation that was another patient's, and a pseudonym's neighbour.

    By then a year has gone since a first stage.
    """
    first, given, meant = _primary(FIRST), _primary(GIVEN_AWAY, patient_id=f"P{GIVEN_TO:09d}"), _primary(MEANT)
    parts = [*_parts(first, "KF001-3A", "SN-5002"), *_parts(given, "KF003-3A"), *_parts(meant)]
    folders = [
        register.deaths("2008-04-10", {DIES: "2004-01-01"}),
        register.losses("2008-04-10", {LEAVES: "2004-01-01"}),
        register.operations("2008-04-15", [first, given, meant], parts, complete="2008-03-31"),
    ]
    return Step(folders, begin=frozenset({"death-before-operation", "operation-after-loss", "first-stage-open"}))


def _lists(register: SmallRegister) -> Step:
    """Units, an implant that came late, and two that go by other names; of some patients there was news before."""
    units = {
        "hospitals": [{"hospital_id": "H003", "region": "R1"}],
        "surgeons": [{"surgeon_id": "S0002"}],
    }
    entries = [_entry("KF003-3A", "KF-003"), _entry("KF002-3A", "KF-001"), _entry("KF004-3A", "KF-004")]
    folders = [
        register.submit("units", "2008-05-01", units),
        register.submit("catalogue", "2008-05-01", {"catalogue": entries}),
    ]
    ended = {"surgeon-unknown", "hospital-unknown", "catalogue-number-unknown"}
    return Step(folders, end=frozenset(ended))


def _pairs(register: SmallRegister) -> Step:
    """A list that says which sizes fit."""
    pair = {"implant": "KF-005", "paired_implant": "KT-001", "size_steps": "1"}
    return Step([register.submit("catalogue", "2008-06-01", {"pairs": [pair]})], begin=frozenset({"sizes-unfit"}))


def _system_named(register: SmallRegister) -> Step:
    folder = register.submit("units", "2008-06-02", {"systems": [_system("RS-2")]})
    return Step([folder], end=frozenset({"technology-system-unknown"}))
