"""
Hips and shoulders for registers made by hand: a catalogue of invented implants, and primaries with their components.
"""

from tests.intake.small_register import Row, SmallRegister, component, primary

# Catalogue number, implant, role, class (empty where it serves several), mobility, material, size
_HIP = (
    ("HS001-2A", "HS-001", "femoral-stem", "", "", "", "2"),
    ("HS002-2A", "HS-002", "femoral-stem", "total", "", "", "2"),
    ("HC001-52A", "HC-001", "shell", "", "", "", "52"),
    ("HL001-36A", "HL-001", "liner", "total", "standard", "highly-cross-linked-polyethylene", "36"),
    ("HK001-36A", "HK-001", "liner", "total", "", "metal", "36"),
    ("HH001-36A", "HH-001", "head", "total", "", "ceramic", "36"),
    ("HH002-28A", "HH-002", "head", "total", "", "metal", "28 +3.5"),
    ("HO001-50A", "HO-001", "one-piece-cup", "total", "standard", "standard-polyethylene", "50"),
    ("HD001-46A", "HD-001", "dual-mobility-bearing", "total", "dual-mobility", "antioxidant-polyethylene", "46"),
    ("HM001-44A", "HM-001", "hemi-head", "hemi", "", "metal", "44"),
    ("HR001-48A", "HR-001", "resurfacing-head", "resurfacing", "", "metal", "48"),
    ("HP001-54A", "HP-001", "one-piece-cup", "resurfacing", "", "metal", "54"),
)
_SHOULDER = (
    ("SS001-2A", "SS-001", "humeral-stem", "", "", "", "2"),
    ("SB001-2A", "SB-001", "stemless-body", "", "", "", "2"),
    ("SR001-46A", "SR-001", "resurfacing-head", "", "", "metal", "46"),
    ("SH001-46A", "SH-001", "humeral-head", "", "", "metal", "46"),
    ("SG001-3A", "SG-001", "one-piece-glenoid", "anatomic", "", "standard-polyethylene", "3"),
    ("ST001-3A", "ST-001", "glenoid-tray", "anatomic", "", "", "3"),
    ("SL001-3A", "SL-001", "glenoid-liner", "anatomic", "", "standard-polyethylene", "3"),
    ("SP001-3A", "SP-001", "baseplate", "reverse", "", "", "3"),
    ("SO001-38A", "SO-001", "glenosphere", "reverse", "", "metal", "38"),
    ("SU001-38A", "SU-001", "humeral-liner", "reverse", "", "standard-polyethylene", "38"),
)
ROLE_OF = {number: role for number, _, role, *_ in (*_HIP, *_SHOULDER)}

# What primaries put in: joint, class, mobility on the form, catalogue numbers.
PRIMARIES: dict[str, tuple[str, str, str, tuple[str, ...]]] = {
    "total hip": ("hip", "total", "standard", ("HS001-2A", "HC001-52A", "HL001-36A", "HH001-36A")),
    "total hip, one-piece cup": ("hip", "total", "standard", ("HS001-2A", "HO001-50A", "HH002-28A")),
    "total hip, dual mobility": (
        "hip",
        "total",
        "",
        ("HS001-2A", "HC001-52A", "HK001-36A", "HD001-46A", "HH002-28A"),
    ),
    "total hip, no head listed": ("hip", "total", "standard", ("HS001-2A", "HC001-52A", "HL001-36A")),
    "hemi hip": ("hip", "hemi", "", ("HS001-2A", "HM001-44A")),
    "resurfacing hip": ("hip", "resurfacing", "standard", ("HR001-48A", "HP001-54A")),
    "anatomic shoulder": ("shoulder", "anatomic", "", ("SS001-2A", "SH001-46A", "SG001-3A")),
    "stemless anatomic shoulder": (
        "shoulder",
        "anatomic",
        "",
        ("SB001-2A", "SH001-46A", "ST001-3A", "SL001-3A"),
    ),
    "reverse shoulder": ("shoulder", "reverse", "", ("SS001-2A", "SU001-38A", "SP001-3A", "SO001-38A")),
    "hemi shoulder": ("shoulder", "hemi", "", ("SS001-2A", "SH001-46A")),
    "resurfacing hemi shoulder": ("shoulder", "hemi", "", ("SR001-46A",)),
}


def catalogue(register: SmallRegister, received: str = "2000-01-02") -> None:
    """Submit the catalogue entries of hips and shoulders."""
    columns = ("catalogue_no", "implant", "role", "class", "bearing", "material", "size")
    rows = [
        dict(zip(columns, entry)) | {"joint": joint, "maker": "M01", "introduced_date": "1995-01-01"}
        for joint, entries in (("hip", _HIP), ("shoulder", _SHOULDER))
        for entry in entries
    ]
    register.submit("catalogue", received, {"catalogue": rows})


def primary_of(kind: str, operation_id: str, patient_no: int, day: str) -> tuple[Row, list[Row]]:
    """One of PRIMARIES as its form, and its components."""
    joint, class_, bearing, numbers = PRIMARIES[kind]
    row = primary(
        operation_id,
        patient_no,
        day,
        **{"joint": joint, "class": class_, "bearing": bearing, "constraint": "", "patella": ""},
        approach="posterior" if joint == "hip" else "deltopectoral",
    )
    return row, parts(operation_id, [(number, "implanted") for number in numbers])


def parts(operation_id: str, lines: list[tuple[str, str]]) -> list[Row]:
    """Components by catalogue number and action; cement has no number of ours."""
    return [
        component(operation_id, n, ROLE_OF.get(number, number), number, action)
        for n, (number, action) in enumerate(lines, 1)
    ]
