"""
The trade's code lists, in one place: intake validates by them, filters and groups use them,
the generator draws from them. A word here is what a file, a filter and a screen all say.

A list ends in NOT_RECORDED where a hospital may leave the field empty; "other" and
"not recorded" are different answers. Words with spaces are written with hyphens in
submission files and filters ("not recorded" is `not-recorded`), see `coded` and `spoken`.
"""

from dataclasses import dataclass

NOT_RECORDED = "not recorded"
NOT_APPLICABLE = "not applicable"

JOINTS = ("knee", "hip", "shoulder")
SIDES = ("left", "right")
SEXES = ("female", "male", NOT_RECORDED)
SEX_CODES = {"0": NOT_RECORDED, "1": "male", "2": "female", "9": NOT_RECORDED}  # ISO/IEC 5218
KINDS = ("primary", "revision")
STAGES = ("single", "first of two", "second of two")

CLASSES = {
    "knee": ("total", "partial", "patellofemoral"),
    "hip": ("total", "hemi", "resurfacing"),
    "shoulder": ("anatomic", "reverse", "hemi"),
}
COMPARTMENTS = ("medial", "lateral", NOT_APPLICABLE, NOT_RECORDED)
# Mobility of the bearing: the first three of knees, the next three of hips.
BEARINGS = ("fixed", "mobile", "one-piece", "standard", "dual mobility", "constrained", NOT_APPLICABLE, NOT_RECORDED)
CONSTRAINTS = (
    "cruciate-retaining",
    "posterior-stabilised",
    "medial-stabilised",
    "condylar-constrained",
    "hinged",
    NOT_APPLICABLE,
    NOT_RECORDED,
)
FIXATIONS = ("cemented", "cementless", "hybrid", "reverse hybrid", NOT_RECORDED)
# What slides on what in a hip, from the catalogue: the head's material on the liner's.
HEAD_MATERIALS = ("metal", "ceramic", "ceramicised metal")
LINER_MATERIALS = (
    "standard polyethylene",
    "highly cross-linked polyethylene",
    "antioxidant polyethylene",
    "ceramic",
    "metal",
)
MATERIALS = (*dict.fromkeys((*HEAD_MATERIALS, *LINER_MATERIALS)), NOT_APPLICABLE, NOT_RECORDED)
BEARING_COUPLES = (
    *(f"{head} on {liner}" for head in HEAD_MATERIALS for liner in LINER_MATERIALS),
    NOT_APPLICABLE,
    NOT_RECORDED,
)
HUMERAL_DESIGNS = ("stemmed", "stemless", "resurfacing", NOT_APPLICABLE, NOT_RECORDED)
PATELLAS = ("resurfaced", "not resurfaced", "already resurfaced", NOT_APPLICABLE, NOT_RECORDED)
_APPROACHES = {
    "knee": ("medial parapatellar", "midvastus", "subvastus", "lateral parapatellar"),
    "hip": ("posterior", "direct lateral", "anterolateral", "direct anterior", "trochanteric"),
    "shoulder": ("deltopectoral", "deltoid-split", "superior"),
}
APPROACHES = (*(word for words in _APPROACHES.values() for word in words), "other", NOT_RECORDED)
TECHNOLOGIES = ("conventional", "navigated", "patient-specific guides", "robot-assisted", "other", NOT_RECORDED)
PROPHYLAXES = (
    "none",
    "aspirin",
    "low-molecular-weight heparin",
    "direct oral anticoagulant",
    "vitamin-K antagonist",
    "other",
    NOT_RECORDED,
)
_DIAGNOSES = {
    "": (
        "osteoarthritis",
        "post-traumatic arthritis",
        "rheumatoid arthritis",
        "other inflammatory arthritis",
        "osteonecrosis",
        "acute fracture",
        "tumour",
        "haemophilic arthropathy",
    ),
    "knee": (),
    "hip": ("femoral-neck fracture", "developmental dysplasia", "childhood hip disease", "failed fracture fixation"),
    "shoulder": (
        "cuff-tear arthropathy",
        "massive cuff tear",
        "proximal humeral fracture",
        "fracture sequelae",
        "instability arthropathy",
    ),
}
DIAGNOSES = (*(word for words in _DIAGNOSES.values() for word in words), "other", NOT_RECORDED)
ASA_CLASSES = ("I", "II", "III", "IV", "V", NOT_RECORDED)

# The words of a list that a joint can have, where the list is not the same for all.
OF_JOINT = {
    "bearing": {
        "knee": (*BEARINGS[:3], NOT_RECORDED),
        "hip": (*BEARINGS[3:6], NOT_APPLICABLE, NOT_RECORDED),
        "shoulder": (NOT_APPLICABLE, NOT_RECORDED),
    },
    "approach": {joint: (*words, "other", NOT_RECORDED) for joint, words in _APPROACHES.items()},
    "diagnosis": {joint: (*_DIAGNOSES[""], *_DIAGNOSES[joint], "other", NOT_RECORDED) for joint in JOINTS},
}

# Component roles of a joint.
ROLES = {
    "knee": ("femoral", "tibial", "bearing insert", "patellar", "stem", "augment", "cement"),
    "hip": (
        "femoral stem",
        "resurfacing head",
        "shell",
        "one-piece cup",
        "hemi head",
        "head",
        "liner",
        "dual-mobility bearing",
        "modular neck",
        "cage",
        "augment",
        "cable or plate",
        "cement",
    ),
    "shoulder": (
        "humeral stem",
        "stemless body",
        "resurfacing head",
        "one-piece glenoid",
        "glenoid tray",
        "baseplate",
        "humeral head",
        "humeral liner",
        "glenoid liner",
        "glenosphere",
        "augment",
        "screw",
        "cement",
    ),
}
# The two components that name a construct and that a primary of the class must have: any of the first roles,
# then any of the second.
NAMING_ROLES: dict[str, dict[str, tuple[tuple[str, ...], tuple[str, ...]]]] = {
    "knee": {
        "total": (("femoral",), ("tibial",)),
        "partial": (("femoral",), ("tibial",)),
        "patellofemoral": (("femoral",), ("patellar",)),
    },
    "hip": {
        "total": (("femoral stem",), ("shell", "one-piece cup")),
        "hemi": (("femoral stem",), ("hemi head",)),
        "resurfacing": (("resurfacing head",), ("one-piece cup", "shell")),
    },
    "shoulder": {
        "anatomic": (
            ("humeral stem", "stemless body", "resurfacing head"),
            ("one-piece glenoid", "glenoid tray"),
        ),
        "reverse": (("humeral stem", "stemless body"), ("baseplate",)),
        "hemi": (("humeral stem", "stemless body", "resurfacing head"), ("humeral head",)),
    },
}
# First names that need no second one: a resurfacing head is the humeral head too, and names the construct alone.
NAMING_ALONE = {"shoulder": {"hemi": ("resurfacing head",)}}
# Parts that can be exchanged while everything fixed to bone stays in.
BEARING_ROLES = {
    "knee": ("bearing insert",),
    "hip": ("head", "liner", "dual-mobility bearing", "hemi head"),
    "shoulder": ("humeral head", "humeral liner", "glenoid liner", "glenosphere"),
}
# Parts that carry the joint and are fixed to bone; what holds them (cables, plates, screws, cement) is not meant, nor
# what sits on them.
FIXED_ROLES = {
    "knee": ("femoral", "tibial", "patellar", "stem", "augment"),
    "hip": ("femoral stem", "resurfacing head", "shell", "one-piece cup", "cage", "augment"),
    "shoulder": (
        "humeral stem",
        "stemless body",
        "resurfacing head",
        "one-piece glenoid",
        "glenoid tray",
        "baseplate",
        "augment",
    ),
}
# Places that a joint has once, each with the roles of which one at a time fills it: where another is put in, the one
# before came out. Roles in no place, such as stems of knees and screws, may be there several times.
PLACES = {
    "knee": (("femoral",), ("tibial",), ("bearing insert",), ("patellar",)),
    "hip": (
        ("femoral stem", "resurfacing head"),
        ("shell", "one-piece cup"),
        ("head", "hemi head"),
        ("liner",),
        ("dual-mobility bearing",),
        ("modular neck",),
    ),
    "shoulder": (
        ("humeral stem", "stemless body", "resurfacing head"),
        ("humeral head", "humeral liner"),
        ("one-piece glenoid", "glenoid tray", "baseplate"),
        ("glenoid liner", "glenosphere"),
    ),
}
MATERIAL_ROLES = ("cement",)  # used at an operation and listed with its components, but no part of the joint
# Which parts slide on each other in a hip, the first that is there: a dual-mobility bearing moves in its liner.
COUPLE_ROLES = {"head": ("head", "resurfacing head"), "liner": ("dual-mobility bearing", "liner", "one-piece cup")}
# The part of a shoulder that says its humeral design.
HUMERAL_ROLES = {"humeral stem": "stemmed", "stemless body": "stemless", "resurfacing head": "resurfacing"}
COMPONENT_ACTIONS = ("implanted", "removed")

LOSSES = ("emigrated", "opted out")
ENDINGS = ("revised", "died", "lost", "in place")


@dataclass(frozen=True)
class Reason:
    """A reason for revision: a detail that a surgeon records, and the group it is counted under."""

    detail: str
    group: str
    rank: int  # in the hierarchy that picks the leading reason where none is marked; 1 leads


# Ordered by the hierarchy: where a form marks no leading reason, or several, the first one here leads.
_KNEE_REASONS = (
    ("infection", "infection"),
    ("fracture, periprosthetic", "fracture"),
    ("fracture, tibial subsidence", "fracture"),
    ("wear, component breakage", "wear"),
    ("bearing dislocation", "bearing dislocation"),
    ("loosening, femoral", "loosening"),
    ("loosening, tibial", "loosening"),
    ("loosening, patellar", "loosening"),
    ("loosening, several components", "loosening"),
    ("wear, osteolysis", "wear"),
    ("wear, bearing surface", "wear"),
    ("progression of disease", "progression of disease"),
    ("instability", "instability"),
    ("malalignment", "malalignment"),
    ("patellofemoral, pain or maltracking", "patellofemoral"),
    ("patellofemoral, erosion", "patellofemoral"),
    ("other, extensor failure", "other"),
    ("stiffness", "stiffness"),
    ("pain, unexplained", "pain"),
    ("other, component size", "other"),
    ("other, suspected hypersensitivity", "other"),
    ("other", "other"),
)
_HIP_REASONS = (
    ("infection", "infection"),
    ("fracture, periprosthetic femur", "fracture"),
    ("fracture, periprosthetic pelvis", "fracture"),
    ("breakage, stem", "breakage"),
    ("breakage, head", "breakage"),
    ("breakage, liner", "breakage"),
    ("dislocation", "dislocation"),
    ("metal reaction, to debris", "metal reaction"),
    ("metal reaction, head-neck corrosion", "metal reaction"),
    ("loosening, stem", "loosening"),
    ("loosening, cup", "loosening"),
    ("loosening, stem and cup", "loosening"),
    ("wear, osteolysis", "wear"),
    ("wear, bearing surface", "wear"),
    ("erosion, acetabular", "erosion"),
    ("malposition", "malposition"),
    ("malposition, leg-length difference", "malposition"),
    ("other, soft-tissue impingement", "other"),
    ("pain, unexplained", "pain"),
    ("other", "other"),
)
_SHOULDER_REASONS = (
    ("infection", "infection"),
    ("fracture, humerus", "fracture"),
    ("fracture, scapula", "fracture"),
    ("breakage, component", "breakage"),
    ("breakage, glenoid or baseplate", "breakage"),
    ("breakage, dissociation", "breakage"),
    ("instability", "instability"),
    ("loosening, glenoid", "loosening"),
    ("loosening, humeral", "loosening"),
    ("loosening, glenoid and humeral", "loosening"),
    ("wear, osteolysis", "wear"),
    ("wear, bearing surface", "wear"),
    ("erosion, glenoid", "erosion"),
    ("cuff failure", "cuff failure"),
    ("malposition", "malposition"),
    ("stiffness", "stiffness"),
    ("pain, unexplained", "pain"),
    ("other", "other"),
)
_REASONS = {"knee": _KNEE_REASONS, "hip": _HIP_REASONS, "shoulder": _SHOULDER_REASONS}
REASONS = {
    joint: tuple(Reason(detail, group, rank) for rank, (detail, group) in enumerate(reasons, 1))
    for joint, reasons in _REASONS.items()
}
REASON_GROUPS = {
    joint: (*dict.fromkeys(group for _, group in reasons), NOT_RECORDED) for joint, reasons in _REASONS.items()
}

ACTIONS = (
    "bearing exchange only",
    "one component exchanged",
    "all components exchanged",
    "component added",
    "partial to total",
    "removal with spacer",
    "reimplantation",
    "removal without replacement",
    "hemi to total",
    "anatomic to reverse",
    NOT_RECORDED,
)
# Which parts an action takes out where the form lists none. A removal takes out all there are.
_ALL_PLACES = {joint: tuple(role for roles in places for role in roles) for joint, places in PLACES.items()}
_KNEE_BUT_PATELLA = ("femoral", "tibial", "bearing insert")
TAKEN_OUT: dict[str, dict[str, tuple[str, ...]]] = {
    "bearing exchange only": BEARING_ROLES,
    "all components exchanged": {**_ALL_PLACES, "knee": _KNEE_BUT_PATELLA},
    "partial to total": {"knee": _KNEE_BUT_PATELLA},
    "hemi to total": {"hip": ("hemi head",), "shoulder": ("humeral head", "resurfacing head")},
    # The humeral stem may stay, and mostly does where it can carry a liner instead of a head.
    "anatomic to reverse": {"shoulder": ("humeral head", "one-piece glenoid", "glenoid tray", "glenoid liner")},
    "removal with spacer": ROLES,
    "removal without replacement": ROLES,
}
# Used at a revision beside ordinary components; each is a yes/no of its own on the form.
EXTRAS = ("stem", "augment", "graft")


def coded(word: str) -> str:
    """Write a word as files and filters do: "not recorded" -> "not-recorded"; commas go."""
    return word.replace(",", "").replace(" ", "-")


def spoken(code: str, words: tuple[str, ...]) -> str | None:
    """Find the word that a code stands for, or None: "not-recorded" -> "not recorded"."""
    return next((word for word in words if coded(word) == code or word == code), None)
