"""
What the form and a hospital's habit of reporting do to what is sent: reasons that move to another word from a day
on, and revisions that never come.
"""

from dataclasses import replace

import numpy as np

from regdash import vocabulary as words
from synthetic_registry import all_words
from synthetic_registry.batch import Batch
from synthetic_registry.dirty_links import worst_linking_hospital
from synthetic_registry.faults import faults
from synthetic_registry.sending import NOT_SENT
from synthetic_registry.several import Several


def under_reporting_hospital(several: Several) -> int:
    """Find the hospital that does not send many of its revisions: a large one that is not planted otherwise."""
    units = several.registers[0].setting.units
    poor = np.concatenate([register.setting.units.hospitals.poor for register in several.registers])
    taken = np.append(poor, worst_linking_hospital(several))
    ranked = np.argsort(-units.hospitals.volume, kind="stable")
    free = ranked[~np.isin(ranked, taken) & (units.hospitals.first_year[ranked] == 0)]
    free = free if len(free) else ranked  # in a tiny register every hospital is planted
    return int(free[len(free) // 4])


def form_changes(rng: np.random.Generator, batch: Batch) -> Batch:
    """Write one reason as another since the form has another list of reasons."""
    records = batch.records
    reason, owner = records.reasons["reason"].copy(), records.reason_owner
    draw, moved = rng.random(len(reason)), np.zeros(len(reason), bool)
    for register in batch.several.registers:
        change = register.setting.parameters.reporting.form_change
        if change is None:
            continue
        group = [r.detail for r in words.REASONS[register.joint] if r.group == change.reason]
        ours = np.isin(reason, [all_words.REASONS.index(detail) for detail in group]) & (draw < change.share)
        ours &= records.operations["limb"][owner] == words.JOINTS.index(register.joint)
        ours &= records.operations["day"][owner] >= batch.several.days.number(change.day)
        reason[ours] = all_words.REASONS.index(change.written)
        moved |= ours
    found = faults("form-change", owner[moved], False, "reason", "reasons", records.reasons["line_no"][moved])
    return replace(batch, records=records.with_reasons(reason=reason), faults=(*batch.faults, found))


def under_reporting(rng: np.random.Generator, batch: Batch) -> Batch:
    """Leave out many revisions of one hospital."""
    ours = batch.records.operations["hospital"] == under_reporting_hospital(batch.several)
    at = batch.choose(rng, batch.is_revision & ours, batch.several.reporting.under_reported)
    submission = batch.submission.copy()
    submission[at] = NOT_SENT
    return replace(batch.changed(at, faults("under-reported", at, False)), submission=submission)
