"""
The true records of everything done in the register's time, as hospitals would write them if nobody erred.
"""

import numpy as np

from regdash import vocabulary as words
from synthetic_registry import all_words
from synthetic_registry.catalogue import NONE
from synthetic_registry.forms import form_columns, label_columns
from synthetic_registry.parts import OPTIONAL, primary_parts
from synthetic_registry.records import EMPTY, NO, PRIMARY, REVISION, YES, Columns, Records, together
from synthetic_registry.register import Register
from synthetic_registry.revisions import NOT_GIVEN, Revisions
from synthetic_registry.several import Several
from synthetic_registry.true_components import component_rows


def make_records(several: Several, revisions: list[Revisions]) -> Records:
    """Write down every primary and revision of the register's time, numbered within each hospital by date."""
    parts = []
    for number, of_joint in enumerate(revisions):
        parts += [_primaries(several, number), _revisions(several, number, of_joint)]
    records = together(parts)
    records = records.with_operations(**form_columns(several, records))
    records = records.with_components(**label_columns(several, records))
    hospital, day = records.operations["hospital"], records.operations["day"]
    order = np.lexsort((np.arange(len(records)), day, hospital))
    records = records.take(order)
    hospital = records.operations["hospital"]
    first = np.searchsorted(hospital, hospital, side="left")
    return records.with_operations(number=(np.arange(len(records)) - first + 1).astype(np.int32))


def _primaries(several: Several, number: int) -> Records:
    register = several.registers[number]
    joints, count = register.joints, register.joints.primaries.registered
    at = np.arange(count)
    nothing = np.full(count, EMPTY, np.uint8)
    operations = {
        **_who_and_where(several, number, at, joints.primaries.day[at], joints.pair[at]),
        "kind": np.full(count, PRIMARY, np.uint8),
        **dict.fromkeys(("stage", "action", "stem", "augment", "graft"), nothing),
        "joint_class": _classes(register)[joints.joint_class[at]],
        **{
            name: getattr(joints, name)[at]
            for name in (
                *("compartment", "bearing", "constraint", "fixation", "patella"),
                *("approach", "technology", "prophylaxis", "diagnosis", "asa", "bmi"),
            )
        },
    }
    parts = primary_parts(joints, several.catalogues[number], at)
    components, counts = component_rows(several, number, np.full_like(parts, NONE), parts, operations["day"], {})
    none = dict.fromkeys(("line_no", "reason", "leads", "note"), np.zeros(0, np.uint8))
    return Records(operations, components, none, counts, np.zeros(count, np.int64))


def _classes(register: Register) -> np.ndarray:
    """Find where the classes of a register stand among those of all joints."""
    return all_words.positions(register.joints.classes, all_words.CLASSES)


def _who_and_where(several: Several, number: int, joint: np.ndarray, day: np.ndarray, pair: np.ndarray) -> Columns:
    register = several.registers[number]
    joints, units = register.joints, register.setting.units
    return {
        "joint": (joint + several.starts[number]).astype(np.int32),
        "limb": np.full(len(joint), words.JOINTS.index(register.joint), np.uint8),
        "patient": joints.primaries.patient[joint],
        "birth_year": joints.birth_year[joint],
        "sex": joints.sex[joint],
        "side": joints.side[joint],
        "day": day.astype(np.int32),
        "date": day.astype(np.int32),  # as written
        "hospital": units.pair_hospital[pair],
        "surgeon": units.pair_surgeon[pair],
    }


def _revisions(several: Several, number: int, revisions: Revisions) -> Records:
    """Write revisions down: the device fields say what is in the joint afterwards, and nothing where it is empty."""
    register, catalogue = several.registers[number], several.catalogues[number]
    joints, joint, count = register.joints, revisions.joint, len(revisions.joint)
    rng = register.setting.stream("revision records")
    empty = (revisions.after == NONE).all(axis=1)
    operations = {
        **_who_and_where(several, number, joint, revisions.day, revisions.pair),
        "kind": np.full(count, REVISION, np.uint8),
        "stage": revisions.stage,
        "action": revisions.action,
        **{name: getattr(revisions, name).astype(np.uint8) for name in ("stem", "augment", "graft")},
        **{name: np.where(empty, EMPTY, values) for name, values in _device_words(register, revisions).items()},
        "approach": joints.approach[joint],
        "technology": np.full(count, words.TECHNOLOGIES.index("conventional"), np.uint8),
        "prophylaxis": joints.prophylaxis[joint],
        "diagnosis": np.full(count, EMPTY, np.uint8),
        "asa": joints.asa[joint],
        "bmi": np.clip(joints.bmi[joint] + rng.integers(-12, 16, count), 160, 690).astype(np.int16),
    }
    family, size = catalogue.implants.constructs.first[revisions.construct], joints.first_size[joint]
    extras: Columns = {
        role: np.where(getattr(revisions, role), catalogue.small(role, family, size), NONE)
        for role in ("stem", "augment")
        if role in catalogue.parameters.small
    }
    day = operations["day"]
    components, counts = component_rows(several, number, revisions.removed, revisions.implanted, day, extras)
    reasons, reason_counts = _reason_rows(register, revisions)
    return Records(operations, components, reasons, counts, reason_counts)


def _device_words(register: Register, revisions: Revisions) -> Columns:
    families, joints = register.setting.implants.families, register.joints
    family = register.setting.implants.constructs.other[revisions.construct]
    bearings = np.array([words.BEARINGS.index(word) for word in families.bearing], np.uint8)
    designs = np.array([words.CONSTRAINTS.index(word) for word in families.constraint], np.uint8)
    same_class = revisions.joint_class == joints.joint_class[revisions.joint]
    compartment, none = (listed.index(words.NOT_APPLICABLE) for listed in (words.COMPARTMENTS, words.PATELLAS))
    patella = np.full(len(family), none)
    if register.joint == "knee":
        resurfaced = revisions.after[:, OPTIONAL] != NONE
        patella = np.where(resurfaced, *(words.PATELLAS.index(w) for w in ("resurfaced", "not resurfaced")))
    return {
        "joint_class": _classes(register)[revisions.joint_class],
        "compartment": np.where(same_class, joints.compartment[revisions.joint], compartment).astype(np.uint8),
        "bearing": bearings[family],
        "constraint": designs[family],
        "fixation": revisions.fixation,
        "patella": patella.astype(np.uint8),
    }


def _reason_rows(register: Register, revisions: Revisions) -> tuple[Columns, np.ndarray]:
    """Write the reasons of each revision, the leading one first; the rows, and how many each revision has."""
    table = np.column_stack([revisions.reason, revisions.second_reason])
    operation, column = np.nonzero(table != NOT_GIVEN)
    reason = all_words.positions(all_words.DETAILS[register.joint], all_words.REASONS)[table[operation, column]]
    rng = register.setting.stream("notes")
    note = rng.integers(0, len(all_words.NOTES), len(reason)).astype(np.uint8)
    return {
        "line_no": (column + 1).astype(np.uint8),
        "reason": reason,
        "leads": np.where(column == 0, YES, NO).astype(np.uint8),
        "note": np.where(reason == all_words.REASONS.index("other"), note, EMPTY).astype(np.uint8),
    }, (table != NOT_GIVEN).sum(axis=1)
