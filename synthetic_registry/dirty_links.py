"""
Dirt in what ties a revision to its primary: pseudonyms and sides.
"""

from dataclasses import replace

import numpy as np

from synthetic_registry.batch import Batch
from synthetic_registry.faults import faults
from synthetic_registry.records import PRIMARY, REVISION
from synthetic_registry.register import Register


def worst_linking_hospital(register: Register) -> int:
    """Find the hospital that sends many revisions under wrong pseudonyms."""
    rng = register.setting.stream("worst linking hospital")
    return int(rng.integers(len(register.setting.units.hospitals.codes)))


def missed_links(rng: np.random.Generator, batch: Batch) -> Batch:
    """Send revisions under a pseudonym that nobody has; one hospital does it much more often."""
    operations = batch.records.operations
    worst = worst_linking_hospital(batch.register)
    rate = np.where(operations["hospital"] == worst, batch.dirt.missed_link_worst, batch.dirt.missed_link)
    at = batch.choose(rng, batch.is_revision, rate)
    nobody = batch.register.joints.primaries.patients + batch.strangers + np.arange(len(at))
    batch = batch.changed(at, faults("missed-link", at, False, "patient_id"), patient=nobody.astype(np.int32))
    return replace(batch, strangers=batch.strangers + len(at))


def false_links(rng: np.random.Generator, batch: Batch) -> Batch:
    """
    Send revisions under another patient's pseudonym, who has a primary on that side and of an earlier day.

    Half of these patients are of the same sex and year of birth, so that nothing submitted can tell.
    """
    operations = batch.records.operations
    at = batch.choose(rng, batch.is_revision, batch.dirt.false_link)
    alike = rng.random(len(at)) < 0.5
    draw = rng.random(len(at))
    other = np.where(alike, _others(batch, at, draw, alike=True), _others(batch, at, draw, alike=False))
    found = other >= 0
    at, other = at[found], other[found]
    joints = batch.register.joints
    years = np.abs(joints.birth_year[other].astype(int) - operations["birth_year"][at])
    revealed = (years > 1) | (joints.sex[other] != operations["sex"][at])
    return batch.changed(at, faults("false-link", at, revealed, "patient_id"), patient=joints.primaries.patient[other])


def _others(batch: Batch, at: np.ndarray, draw: np.ndarray, *, alike: bool) -> np.ndarray:
    """Find another patient's primary on the same side before each of these revisions; -1 where there is none."""
    joints, operations = batch.register.joints, batch.records.operations
    count = joints.primaries.registered
    day = joints.primaries.day[:count].astype(np.int64)

    def group(side: np.ndarray, sex: np.ndarray, birth_year: np.ndarray) -> np.ndarray:
        alone = side.astype(np.int64)
        return ((birth_year.astype(np.int64) * 4 + sex) * 2 + alone if alike else alone) << 20

    key = group(joints.side[:count], joints.sex[:count], joints.birth_year[:count]) + day
    order = np.argsort(key, kind="stable")
    own = group(*(operations[name][at] for name in ("side", "sex", "birth_year")))
    low = np.searchsorted(key[order], own)
    high = np.searchsorted(key[order], own + operations["day"][at])
    place = low + np.floor(draw * (high - low)).astype(np.int64)
    other = order[np.minimum(place, count - 1)]
    fits = (high > low) & (joints.primaries.patient[other] != operations["patient"][at])
    return np.where(fits, other, -1)


def wrong_sides(rng: np.random.Generator, batch: Batch) -> Batch:
    """Write the other side down. It shows where the patient's other records contradict it."""
    operations = batch.records.operations
    at = batch.choose(rng, np.ones(len(batch.records), bool), batch.dirt.wrong_side)
    primaries, revisions = (_joint_sides(batch, kind) for kind in (PRIMARY, REVISION))
    true = operations["patient"][at].astype(np.int64) * 2 + operations["side"][at]
    stated = true ^ 1
    both_primary = np.isin(stated, primaries)
    revealed = np.where(
        batch.is_revision[at],
        np.isin(true, primaries) & ~both_primary,
        both_primary | np.isin(true, revisions),
    )
    return batch.changed(at, faults("wrong-side", at, revealed, "side"), side=operations["side"][at] ^ 1)


def _joint_sides(batch: Batch, kind: int) -> np.ndarray:
    """Number the joints that have a record of a kind among those sent, by patient and side."""
    operations = batch.records.operations
    own = (operations["kind"] == kind) & batch.sent & ~batch.spoiled
    return operations["patient"][own].astype(np.int64) * 2 + operations["side"][own]
