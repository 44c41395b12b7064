"""
Dirt in the fields of operations: each kind changes one thing that a rule can see.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from regdash import vocabulary as words
from synthetic_registry import all_words
from synthetic_registry.batch import Batch
from synthetic_registry.faults import faults
from synthetic_registry.records import EMPTY, Columns
from synthetic_registry.true_components import IMPLANTED
from synthetic_registry.written import BOTH_SIDES, IN_METRES

KNEE, HIP, SHOULDER = range(3)
ACUTE = [words.DIAGNOSES.index(word) for word in words.DIAGNOSES if "fracture" in word or word == "tumour"]
FIXED, MOBILE, STANDARD, DUAL = (
    words.BEARINGS.index(word) for word in ("fixed", "mobile", "standard", "dual mobility")
)
RETAINING, STABILISED = (words.CONSTRAINTS.index(word) for word in ("cruciate-retaining", "posterior-stabilised"))
CEMENTED, CEMENTLESS = (words.FIXATIONS.index(word) for word in ("cemented", "cementless"))
UNRESURFACED, ALREADY = (words.PATELLAS.index(word) for word in ("not resurfaced", "already resurfaced"))
# A word of another joint's list, for each kind of joint.
FOREIGN_DIAGNOSES = np.array(
    [words.DIAGNOSES.index(w) for w in ("cuff-tear arthropathy", "cuff-tear arthropathy", "developmental dysplasia")]
)
# Positions in `all_words.ICD10` of codes of the next joint's own disease.
FOREIGN_CODES = np.array(
    [all_words.ICD10.index(all_words.SITE_CODES[joint]) for joint in ("hip", "shoulder", "knee")], np.uint8
)

Changed = Columns


@dataclass(frozen=True)
class Odd:
    """A kind of fault: the field it is in, on which operations it can be put, and what it changes."""

    kind: str
    field: str
    can: Callable[["View"], np.ndarray]  # (operations,) bool
    change: Callable[["View", np.ndarray, np.random.Generator], Changed]  # columns of the chosen operations


class View:
    """What the kinds of faults ask of the operations."""

    def __init__(self, batch: Batch) -> None:
        self.batch, self.operations = batch, batch.records.operations
        several, operations = batch.several, batch.records.operations
        self.primary, self.limb = ~batch.is_revision, operations["limb"]
        self.year = several.days.calendar_years(operations["day"])
        self.body = (operations["height"] >= 0) & (operations["weight"] >= 0)
        components, owner = batch.records.components, batch.records.component_owner
        implanted = components["action"] == IMPLANTED
        unknown = implanted & (components["entry"] >= len(several.entries))
        cement = implanted & (components["role"] == all_words.ROLES.index("cement"))
        count = len(batch.records)
        self.known = np.bincount(owner[unknown], minlength=count) == 0
        self.has_cement = np.bincount(owner[cement], minlength=count) > 0
        total = [joints.joint_class == _place("total", joints.classes) for joints in several.joints]
        self.was_total = np.concatenate(total)[operations["joint"]]
        self.revision_no = revision_numbers(batch)
        # Whether a joint's primary was sent as it is, so that a link to it can be found.
        sent = np.zeros(len(several.limb), bool)
        sent[operations["joint"][self.primary & batch.sent & ~batch.spoiled]] = True
        self.linked = sent[operations["joint"]]

    def __getitem__(self, column: str) -> np.ndarray:
        return self.operations[column]


def revision_numbers(batch: Batch) -> np.ndarray:
    """Number the revisions of each joint from 1 by day; 0 of primaries."""
    operations = batch.records.operations
    revisions = np.flatnonzero(batch.is_revision)
    order = revisions[np.lexsort((operations["day"][revisions], operations["joint"][revisions]))]
    joint = operations["joint"][order]
    numbers = np.zeros(len(batch.records), np.int64)
    numbers[order] = np.arange(len(order)) - np.searchsorted(joint, joint, side="left") + 1
    return numbers


def _place(word: str, listed: tuple[str, ...]) -> int:
    """Find a word's position, -1 if it is not there."""
    return listed.index(word) if word in listed else -1


def _word(column: str, value: int) -> Callable[[View, np.ndarray, np.random.Generator], Changed]:
    """Write one value into one column."""
    return lambda view, at, rng: {column: np.full(len(at), value, view[column].dtype)}


def _swapped(view: View, at: np.ndarray, rng: np.random.Generator) -> Changed:
    height, weight = view["height"][at], view["weight"][at]
    return {"height": np.rint(weight / 10).astype(np.int16), "weight": (height * 10).astype(np.int16)}


def _other_bmi(view: View, at: np.ndarray, rng: np.random.Generator) -> Changed:
    bmi, step = view["bmi"][at], rng.integers(30, 90, len(at))
    return {"bmi": np.where(bmi > 400, bmi - step, bmi + step).astype(np.int16)}


def _swap(column: str, one: int, other: int) -> Callable[[View, np.ndarray, np.random.Generator], Changed]:
    """Put one word in the place of another, and that in the place of the first."""
    return lambda view, at, rng: {column: np.where(view[column][at] == one, other, one).astype(np.uint8)}


def _bearings(view: View, at: np.ndarray, rng: np.random.Generator) -> Changed:
    other = {FIXED: MOBILE, MOBILE: FIXED, STANDARD: DUAL, DUAL: STANDARD}
    return {"bearing": np.array([other[code] for code in view["bearing"][at].tolist()], np.uint8)}


def _other_systems(view: View, at: np.ndarray, rng: np.random.Generator) -> Changed:
    own, half = view["system"][at], len(all_words.ROBOTS)
    return {"system": (own // half * half + (own + 1) % half).astype(np.uint8)}


def _late_admission(view: View, at: np.ndarray, rng: np.random.Generator) -> Changed:
    admission = (view["day"][at] + rng.integers(1, 5, len(at))).astype(np.int32)
    return {"admission": admission, "discharge": np.maximum(view["discharge"][at], admission)}


def _is_class(view: View, limb: int, name: str) -> np.ndarray:
    return (view.limb == limb) & (view["joint_class"] == all_words.CLASSES.index(name))


ODDS = (
    Odd("height-in-metres", "height_cm", lambda v: v.body, lambda v, at, rng: {"height": v["height"][at] + IN_METRES}),
    Odd("swapped-height-weight", "height_cm", lambda v: v.body & (v["weight"] < 1150), _swapped),
    Odd(
        "weight-in-pounds",
        "weight_kg",
        lambda v: v.body & (v["bmi"] >= 0) & (v["weight"] < 1100),
        lambda v, at, rng: {"weight": np.rint(v["weight"][at] * 2.2046).astype(np.int16)},
    ),
    Odd("bmi-disagrees", "bmi", lambda v: v.body & (v["bmi"] >= 0), _other_bmi),
    Odd(
        "bmi-implausible",
        "bmi",
        lambda v: v["bmi"] >= 0,
        lambda v, at, rng: {"bmi": np.where(rng.random(len(at)) < 0.5, v["bmi"][at] // 5, 750 + v["bmi"][at] // 4)},
    ),
    Odd(
        "malformed-icd10",
        "icd10",
        lambda v: v["icd10"] != EMPTY,
        lambda v, at, rng: {"icd10": rng.choice(all_words.MALFORMED, len(at)).astype(np.uint8)},
    ),
    Odd(
        "icd10-wrong-site",
        "icd10",
        lambda v: v.primary & (v["icd10"] != EMPTY),
        lambda v, at, rng: {"icd10": FOREIGN_CODES[v.limb[at]]},
    ),
    Odd("birth-year-missing", "birth_year", lambda v: v["birth_year"] > 0, _word("birth_year", -1)),
    Odd("side-both", "side", lambda v: v["side"] < BOTH_SIDES, _word("side", BOTH_SIDES)),
    Odd(
        "asa-five",
        "asa",
        lambda v: v.primary & ~np.isin(v["diagnosis"], ACUTE) & (v["asa"] != EMPTY),
        _word("asa", words.ASA_CLASSES.index("V")),
    ),
    Odd(
        "diagnosis-other-joint",
        "diagnosis",
        lambda v: v.primary,
        lambda v, at, rng: {"diagnosis": FOREIGN_DIAGNOSES[v.limb[at]].astype(np.uint8)},
    ),
    Odd("class-missing", "class", lambda v: v.primary & (v["joint_class"] != EMPTY), _word("joint_class", EMPTY)),
    Odd(
        "word-unknown",
        "approach",
        lambda v: v.primary & (v["approach"] != EMPTY),
        _word("approach", len(words.APPROACHES)),
    ),
    Odd(
        "bearing-disagrees",
        "bearing",
        lambda v: v.primary & v.known & np.isin(v["bearing"], (FIXED, MOBILE, STANDARD, DUAL)),
        _bearings,
    ),
    Odd(
        "constraint-disagrees",
        "constraint",
        lambda v: v.primary & v.known & np.isin(v["constraint"], (RETAINING, STABILISED)),
        _swap("constraint", RETAINING, STABILISED),
    ),
    Odd(
        "cement-on-cementless",
        "fixation",
        lambda v: v.primary & v.known & v.has_cement & (v["fixation"] == CEMENTED),
        _word("fixation", CEMENTLESS),
    ),
    Odd(
        "cemented-without",
        "fixation",
        lambda v: (
            v.primary
            & v.known
            & ~v.has_cement
            & (v["fixation"] == CEMENTLESS)
            & (v.year >= v.batch.several.reporting.cement_from)
        ),
        _word("fixation", CEMENTED),
    ),
    Odd(
        "compartment-missing",
        "compartment",
        lambda v: v.primary & _is_class(v, KNEE, "partial"),
        _word("compartment", EMPTY),
    ),
    Odd(
        "patella-already",
        "patella",
        lambda v: v.primary & _is_class(v, KNEE, "total") & (v["patella"] == UNRESURFACED),
        _word("patella", ALREADY),
    ),
    Odd(
        "unknown-surgeon",
        "surgeon_id",
        lambda v: v["surgeon"] >= 0,
        lambda v, at, rng: {"surgeon": np.full(len(at), len(v.batch.several.surgeons), v["surgeon"].dtype)},
    ),
    Odd("robot-without-system", "technology_system", lambda v: v["system"] != EMPTY, _word("system", EMPTY)),
    Odd("system-not-there", "technology_system", lambda v: v["system"] != EMPTY, _other_systems),
    Odd(
        "discharge-first",
        "discharge_date",
        lambda v: v["day"] > 10,
        lambda v, at, rng: {"discharge": (v["admission"][at] - rng.integers(1, 6, len(at))).astype(np.int32)},
    ),
    Odd("admission-late", "admission_date", lambda v: v["day"] >= 0, _late_admission),
)


def odd_fields(rng: np.random.Generator, batch: Batch) -> Batch:
    """Put each kind of fault on some of the operations that can have it."""
    view = View(batch)  # spoiled ones are not chosen again, so it holds for all kinds
    for odd in ODDS:
        at = batch.choose(rng, odd.can(view), batch.dirt.odd.get(odd.kind, 0.0))
        batch = batch.changed(at, faults(odd.kind, at, True, odd.field), **odd.change(view, at, rng))
    return batch
