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

JOINTS = ("knee",)
SIDES = ("left", "right")
SEXES = ("female", "male", NOT_RECORDED)
KINDS = ("primary", "revision")
STAGES = ("single", "first of two", "second of two")

CLASSES = {"knee": ("total", "partial")}
COMPARTMENTS = ("medial", "lateral", NOT_APPLICABLE, NOT_RECORDED)
BEARINGS = ("fixed", "mobile", "one-piece", NOT_RECORDED)
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
PATELLAS = ("resurfaced", "not resurfaced", NOT_RECORDED)
APPROACHES = ("medial parapatellar", "midvastus", "subvastus", "lateral parapatellar", "other", NOT_RECORDED)
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
DIAGNOSES = (
    "osteoarthritis",
    "post-traumatic arthritis",
    "rheumatoid arthritis",
    "other inflammatory arthritis",
    "osteonecrosis",
    "acute fracture",
    "tumour",
    "haemophilic arthropathy",
    "other",
    NOT_RECORDED,
)
ASA_CLASSES = ("I", "II", "III", "IV", "V", NOT_RECORDED)

# Component roles of a joint, in the order a construct is named; the first two name it.
ROLES = {"knee": ("femoral", "tibial", "bearing insert", "patellar", "stem", "augment")}
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
REASONS = {"knee": tuple(Reason(detail, group, rank) for rank, (detail, group) in enumerate(_KNEE_REASONS, 1))}
REASON_GROUPS = {"knee": tuple(dict.fromkeys(group for _, group in _KNEE_REASONS)) + (NOT_RECORDED,)}

ACTIONS = (
    "bearing exchange only",
    "one component exchanged",
    "all components exchanged",
    "component added",
    "partial to total",
    "removal with spacer",
    "reimplantation",
    "removal without replacement",
    NOT_RECORDED,
)
# Used at a revision beside ordinary components; each is a yes/no of its own on the form.
EXTRAS = ("stem", "augment", "graft")


def coded(word: str) -> str:
    """Write a word as files and filters do: "not recorded" -> "not-recorded"; commas go."""
    return word.replace(",", "").replace(" ", "-")


def spoken(code: str, words: tuple[str, ...]) -> str | None:
    """Find the word that a code stands for, or None: "not-recorded" -> "not recorded"."""
    return next((word for word in words if coded(word) == code or word == code), None)
