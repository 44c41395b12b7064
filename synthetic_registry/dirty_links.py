"""
Dirt in what ties a revision to its primary: pseudonyms and sides.
"""

from dataclasses import replace

import numpy as np

from synthetic_registry.batch import Batch
from synthetic_registry.faults import ELSEWHERE, faults
from synthetic_registry.records import PRIMARY, REVISION, Columns
from synthetic_registry.several import Several
from synthetic_registry.true_components import IMPLANTED


def worst_linking_hospital(several: Several) -> int:
    """Find the hospital that sends many revisions under wrong pseudonyms."""
    rng = several.stream("worst linking hospital")
    return int(rng.integers(len(several.hospitals)))


def missed_links(rng: np.random.Generator, batch: Batch) -> Batch:
    """Send revisions under a pseudonym that nobody has; one hospital does it much more often."""
    operations = batch.records.operations
    worst = worst_linking_hospital(batch.several)
    rate = np.where(operations["hospital"] == worst, batch.dirt.missed_link_worst, batch.dirt.missed_link)
    at = batch.choose(rng, batch.is_revision, rate)
    nobody = batch.several.patients + batch.strangers + np.arange(len(at))
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
    several = batch.several
    years = np.abs(several.column("birth_year")[other].astype(int) - operations["birth_year"][at])
    revealed = (years > 1) | (several.column("sex")[other] != operations["sex"][at])
    return batch.changed(at, faults("false-link", at, revealed, "patient_id"), patient=several.column("patient")[other])


def _others(batch: Batch, at: np.ndarray, draw: np.ndarray, *, alike: bool) -> np.ndarray:
    """Find another patient's primary on the same joint and side before each of these revisions; -1: there is none."""
    several, operations = batch.several, batch.records.operations
    own = np.flatnonzero(several.registered)

    def group(limb: np.ndarray, side: np.ndarray, sex: np.ndarray, birth_year: np.ndarray) -> np.ndarray:
        alone = limb.astype(np.int64) * 2 + side
        return ((birth_year.astype(np.int64) * 4 + sex) * 6 + alone if alike else alone) << 20

    columns = (several.limb, *(several.column(name) for name in ("side", "sex", "birth_year")))
    key = group(*(values[own] for values in columns)) + several.column("day")[own]
    order = np.argsort(key, kind="stable")
    wanted = group(*(operations[name][at] for name in ("limb", "side", "sex", "birth_year")))
    low = np.searchsorted(key[order], wanted)
    high = np.searchsorted(key[order], wanted + operations["day"][at])
    place = low + np.floor(draw * (high - low)).astype(np.int64)
    other = own[order[np.minimum(place, len(own) - 1)]]
    fits = (high > low) & (several.column("patient")[other] != operations["patient"][at])
    return np.where(fits, other, -1)


def wrong_sides(rng: np.random.Generator, batch: Batch) -> Batch:
    """Write the other side down. It shows where the patient's other records contradict it."""
    operations = batch.records.operations
    at = batch.choose(rng, np.ones(len(batch.records), bool), batch.dirt.wrong_side)
    primaries, revisions = (_joint_sides(batch, kind, at) for kind in (PRIMARY, REVISION))
    true = _numbered(operations, at)
    stated = true ^ 1
    both_primary = np.isin(stated, primaries)
    revealed = np.where(
        batch.is_revision[at],
        np.isin(true, primaries) & ~both_primary,
        both_primary | np.isin(true, revisions),
    ).astype(np.uint8)
    # Of two primaries on one side the later one is held; and a revision that finds no primary, not the primary.
    second = _later_than_others(batch, at, stated)
    revealed[(revealed == 1) & ~batch.is_revision[at] & ~second] = ELSEWHERE
    revealed[_has_sided(batch)[at]] = 1
    return batch.changed(at, faults("wrong-side", at, revealed, "side"), side=operations["side"][at] ^ 1)


def _numbered(operations: Columns, at: np.ndarray) -> np.ndarray:
    """Number the joints of some records by patient, kind of joint and side."""
    return (operations["patient"][at].astype(np.int64) * 4 + operations["limb"][at]) * 2 + operations["side"][at]


def _joint_sides(batch: Batch, kind: int, but: np.ndarray) -> np.ndarray:
    """Number the joints that have a record of a kind among those sent as they are, but for some."""
    operations = batch.records.operations
    own = (operations["kind"] == kind) & batch.sent & ~batch.spoiled
    own[but] = False
    return _numbered(operations, np.flatnonzero(own))


def _later_than_others(batch: Batch, at: np.ndarray, stated: np.ndarray) -> np.ndarray:
    """Say of which records a primary on the stated side is of an earlier day; (n,) bool."""
    operations = batch.records.operations
    own = (operations["kind"] == PRIMARY) & batch.sent & ~batch.spoiled
    own[at] = False
    others = np.flatnonzero(own)
    numbered = _numbered(operations, others)
    order = np.argsort(numbered, kind="stable")
    place = np.minimum(np.searchsorted(numbered[order], stated), max(len(order) - 1, 0))
    other = others[order[place]]
    found = _numbered(operations, other) == stated
    return found & (operations["day"][other] < operations["day"][at])


def _has_sided(batch: Batch) -> np.ndarray:
    """Say which operations put in a component that fits one side only; (operations,) bool."""
    components = batch.records.components
    sided = np.array([bool(entry.side) for entry in batch.several.entries])[components["entry"]]
    sided &= components["action"] == IMPLANTED
    return np.bincount(batch.records.component_owner[sided], minlength=len(batch.records)) > 0
