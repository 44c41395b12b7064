"""
What was planted on purpose, and how much it is used.
"""

from typing import Any

import numpy as np

from synthetic_registry.batch import Batch
from synthetic_registry.dirty_links import worst_linking_hospital
from synthetic_registry.dirty_reports import under_reporting_hospital
from synthetic_registry.implants import MIDDLE_SIZE
from synthetic_registry.lives import REVISED
from synthetic_registry.register import Register
from synthetic_registry.true_components import LOT_DAYS, poor_lot_entry, poor_lot_joints


def construct_codes(batch: Batch, number: int) -> tuple[list[str], list[str], list[str]]:
    """Name each construct of one kind of joint, and its two naming components; the second may be none."""
    catalogue = batch.several.catalogues[number]
    constructs = catalogue.implants.constructs
    first = [catalogue.implant_code(int(family), 0) for family in constructs.first]
    other = [catalogue.implant_code(int(family), 1) for family in constructs.other]
    return [f"{a}/{b}" if b else a for a, b in zip(first, other)], first, other


def planted_truths(batch: Batch) -> dict[str, Any]:
    """Say what was planted, in all kinds of joints."""
    several = batch.several
    together: dict[str, list[dict[str, Any]]] = {"hospitals": [], "surgeons": [], "implants": [], "lots": []}
    for number, register in enumerate(several.registers):
        units, frailty = register.setting.units, register.setting.parameters.frailty
        count = register.joints.primaries.registered
        for name, codes, poor, worse, of_joint in (
            ("hospitals", units.hospitals.codes, units.hospitals.poor, frailty.poor_hospitals, "hospital"),
            ("surgeons", units.surgeons.codes, units.surgeons.poor, frailty.poor_surgeons, "surgeon"),
        ):
            where = getattr(register.joints, of_joint)[:count]
            together[name] += [
                {"joint": register.joint, "code": codes[unit], "factor": worse[1], **_use(register, where == unit)}
                for unit in poor
            ]
        together["implants"] += [_planted_implant(batch, number, n) for n in range(len(frailty.poor_implants))]
        together["lots"] += _planted_lot(batch, number)
    changes = {
        register.joint: register.setting.parameters.reporting.form_change.__dict__
        for register in several.registers
        if register.setting.parameters.reporting.form_change
    }
    return {
        **together,
        "hospital_that_misses_links": several.hospitals[worst_linking_hospital(several)],
        "hospital_that_under_reports": {
            "code": several.hospitals[under_reporting_hospital(several)],
            "share_not_sent": several.reporting.under_reported,
        },
        "form_changes": changes,
    }


def _use(register: Register, mask: np.ndarray) -> dict[str, int]:
    return {"joints": int(mask.sum()), "revisions": int((mask & (register.ended == REVISED)).sum())}


def _planted_implant(batch: Batch, number: int, place: int) -> dict[str, Any]:
    register = batch.several.registers[number]
    planted = register.setting.parameters.frailty.poor_implants[place]
    construct = register.setting.implants.planted(place)
    names, first, other = construct_codes(batch, number)
    if planted.best_seller == "other":
        first, other = other, first
    count = register.joints.primaries.registered
    mask = register.joints.construct[:count] == construct
    if planted.one_size_only:
        mask = mask & (register.joints.other_size[:count] == MIDDLE_SIZE)
    top = np.bincount(register.joints.surgeon[:count][mask], minlength=1)
    return {
        "joint": register.joint,
        "kind": planted.kind,
        "implant": other[construct],
        "with": first[construct],
        "construct": names[construct],
        "size": register.setting.parameters.classes[0].places[1].sizes[MIDDLE_SIZE - 1]
        if planted.one_size_only
        else "all",
        "factor": planted.factor,
        "from_day": planted.from_day,
        **_use(register, mask),
        "main_surgeon": register.setting.units.surgeons.codes[int(top.argmax())],
        "main_surgeons_share": round(float(top.max() / max(top.sum(), 1)), 3),
    }


def _planted_lot(batch: Batch, number: int) -> list[dict[str, Any]]:
    register, several = batch.several.registers[number], batch.several
    lot = register.setting.parameters.frailty.poor_lot
    if lot is None:
        return []
    entry = poor_lot_entry(several, number)
    slots = several.days.last // LOT_DAYS + 1
    written = (entry + int(several.entry_starts[number])) * slots + several.days.number(lot.first_day) // LOT_DAYS
    found = several.catalogues[number].entries[entry]
    return [
        {
            "joint": register.joint,
            "lot": f"L{written:07d}",
            "catalogue_no": found.catalogue_no,
            "implant": found.implant,
            "factor": lot.factor,
            **_use(register, poor_lot_joints(register)),
        }
    ]
