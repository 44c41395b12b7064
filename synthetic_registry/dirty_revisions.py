"""
Dirt in revisions: without a reason or a component, with reasons that cannot be, or with two that lead.
"""

import numpy as np

from regdash import vocabulary as words
from synthetic_registry import all_words
from synthetic_registry.batch import Batch
from synthetic_registry.dirty_fields import FIXED, KNEE, View
from synthetic_registry.faults import faults
from synthetic_registry.records import EMPTY, YES, Records

SINGLE = words.STAGES.index("single")
TO_TOTAL, ALL_EXCHANGED = (words.ACTIONS.index(word) for word in ("partial to total", "all components exchanged"))
PROGRESSION, DISLOCATION, WEAR, OTHER = (
    all_words.REASONS.index(word)
    for word in ("progression of disease", "bearing dislocation", "wear, bearing surface", "other")
)
# A reason of another joint's list, for each kind of joint.
FOREIGN = np.array([all_words.REASONS.index(w) for w in ("cuff failure", "stiffness", "dislocation")], np.uint8)


def odd_revisions(rng: np.random.Generator, batch: Batch) -> Batch:
    """Put each kind of fault on some of the revisions that can have it; rows that go come last."""
    for step in (
        _conversions_of_totals,
        _impossible_reasons,
        _two_leading,
        _other_joints_reasons,
        _without_notes,
        _without_rows,
    ):
        batch = step(rng, batch)
    return batch


def _first_reason(batch: Batch) -> np.ndarray:
    """Find the row of each operation's first reason; of one without any it is another's."""
    return np.cumsum(batch.records.reason_counts) - batch.records.reason_counts


def _with_reasons(batch: Batch, kind: str, at: np.ndarray, rows: np.ndarray, **columns: np.ndarray | int) -> Batch:
    new = {name: batch.records.reasons[name].copy() for name in columns}
    for name, values in columns.items():
        new[name][rows] = values
    line_no = batch.records.reasons["line_no"][rows]
    found = faults(kind, at, True, next(iter(columns)), "reasons", line_no)
    return batch.with_records(at, found, batch.records.with_reasons(**new))


def _rate(batch: Batch, kind: str) -> float:
    return batch.dirt.odd.get(kind, 0.0)


def _two_leading(rng: np.random.Generator, batch: Batch) -> Batch:
    first = _first_reason(batch)
    leads = np.append(batch.records.reasons["leads"], EMPTY)
    marked = (batch.records.reason_counts > 1) & (leads[np.minimum(first, len(leads) - 1)] == YES)
    at = batch.choose(rng, batch.is_revision & marked, _rate(batch, "two-leading"))
    return _with_reasons(batch, "two-leading", at, first[at] + 1, leads=YES)


def _other_joints_reasons(rng: np.random.Generator, batch: Batch) -> Batch:
    two = batch.is_revision & (batch.records.reason_counts > 1)
    at = batch.choose(rng, two, _rate(batch, "reason-other-joint"))
    rows = _first_reason(batch)[at] + 1
    note = np.full(len(at), EMPTY, np.uint8)
    reason = FOREIGN[batch.records.operations["limb"][at]]
    return _with_reasons(batch, "reason-other-joint", at, rows, reason=reason, note=note)


def _conversions_of_totals(rng: np.random.Generator, batch: Batch) -> Batch:
    """Say that a total knee was made one, on first revisions of joints whose primaries were sent."""
    view = View(batch)
    can = (view.revision_no == 1) & (view.limb == KNEE) & view.was_total & view.linked
    can &= batch.records.operations["action"] == ALL_EXCHANGED
    at = batch.choose(rng, can, _rate(batch, "conversion-of-total"))
    found = faults("conversion-of-total", at, True, "action")
    return batch.changed(at, found, action=np.full(len(at), TO_TOTAL, np.uint8)).protected(at)


def _impossible_reasons(rng: np.random.Generator, batch: Batch) -> Batch:
    """Write reasons that the joint cannot have had, on first revisions of joints whose primaries were sent."""
    view, operations, several = View(batch), batch.records.operations, batch.several
    first = (view.revision_no == 1) & view.linked & (operations["stage"] == SINGLE)
    first &= batch.records.reason_counts == 1
    knee = operations["limb"] == KNEE
    joint = operations["joint"]
    since = operations["day"] - several.column("day")[joint]
    fixed = several.column("bearing")[joint] == FIXED
    for kind, can, reason in (
        ("progression-on-total", knee & view.was_total, PROGRESSION),
        ("dislocation-on-fixed", knee & fixed, DISLOCATION),
        ("early-wear", since < 300, WEAR),
    ):
        at = batch.choose(rng, first & can, _rate(batch, kind))
        rows = _first_reason(batch)[at]
        batch = _with_reasons(batch, kind, at, rows, reason=reason, note=EMPTY).protected(at)
    return batch


def _without_notes(rng: np.random.Generator, batch: Batch) -> Batch:
    reasons, owner = batch.records.reasons, batch.records.reason_owner
    other = np.flatnonzero((reasons["reason"] == OTHER) & (reasons["note"] != EMPTY))
    row = np.full(len(batch.records), -1)
    row[owner[other]] = other
    at = batch.choose(rng, row >= 0, _rate(batch, "other-without-note"))
    return _with_reasons(batch, "other-without-note", at, row[at], note=EMPTY)


def _without_rows(rng: np.random.Generator, batch: Batch) -> Batch:
    """Leave out all reasons, or all components, of some revisions."""
    single = batch.is_revision & (batch.records.operations["stage"] == SINGLE) & batch.whole_rows
    at = batch.choose(rng, single, _rate(batch, "reason-missing"))
    batch = batch.with_records(at, faults("reason-missing", at, True), _left(batch, reasons_of=at))
    at = batch.choose(rng, single, _rate(batch, "components-missing"))
    return batch.with_records(at, faults("components-missing", at, True), _left(batch, components_of=at))


NOBODY = np.zeros(0, np.int64)


def _left(batch: Batch, reasons_of: np.ndarray = NOBODY, components_of: np.ndarray = NOBODY) -> Records:
    records = batch.records
    return records.kept(~np.isin(records.component_owner, components_of), ~np.isin(records.reason_owner, reasons_of))
