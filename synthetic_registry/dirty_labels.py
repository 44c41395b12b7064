"""
Dirt in lots and on devices' labels: placeholders, wrong check digits, other devices, past expiry, the same number
in two patients.
"""

from dataclasses import replace

import numpy as np

from synthetic_registry.batch import Batch
from synthetic_registry.faults import Faults, faults
from synthetic_registry.labels import FIRST_PLACEHOLDER, OTHER_DEVICE, PLACEHOLDERS, WRONG_DIGIT
from synthetic_registry.true_components import IMPLANTED


def odd_labels(rng: np.random.Generator, batch: Batch) -> Batch:
    """Put each kind of fault on some of the components that can have it."""
    for step in (_placeholders, _expired, _wrong_digits, _other_devices, _repeated_serials):
        batch = step(rng, batch)
    return batch


def chosen_rows(rng: np.random.Generator, batch: Batch, kind: str, eligible: np.ndarray) -> np.ndarray:
    """Choose rows of components by the rate of a kind; at most one of an operation that has no fault yet."""
    owner = batch.records.component_owner
    free = (batch.sent & ~batch.spoiled)[owner]
    rows = np.flatnonzero(eligible & free & (rng.random(len(owner)) < batch.dirt.odd.get(kind, 0.0)))
    _, first = np.unique(owner[rows], return_index=True)
    return rows[first]


def row_faults(batch: Batch, kind: str, rows: np.ndarray, field: str, revealed: np.ndarray | bool = True) -> Faults:
    """List faults in rows of components."""
    records = batch.records
    owner, line_no = records.component_owner[rows], records.components["line_no"][rows]
    return faults(kind, owner, revealed, field, "components", line_no)


def spoiled(batch: Batch, found: Faults, **columns: np.ndarray) -> Batch:
    """Replace columns of the components, and spoil the operations named in the faults."""
    return batch.with_records(found.record, found, batch.records.with_components(**columns))


def _changed(batch: Batch, rows: np.ndarray, column: str, values: np.ndarray | int) -> dict[str, np.ndarray]:
    new = batch.records.components[column].copy()
    new[rows] = values
    return {column: new}


def _labelled(batch: Batch) -> np.ndarray:
    """Say which components have a label, and a number that the catalogue knows."""
    components = batch.records.components
    return (components["label"] > 0) & (components["entry"] < len(batch.several.entries))


def _placeholders(rng: np.random.Generator, batch: Batch) -> Batch:
    components = batch.records.components
    rows = chosen_rows(rng, batch, "placeholder-lot", (components["lot"] >= 0) & (components["label"] == 0))
    lot = FIRST_PLACEHOLDER - rng.integers(0, len(PLACEHOLDERS), len(rows))
    return spoiled(batch, row_faults(batch, "placeholder-lot", rows, "lot"), **_changed(batch, rows, "lot", lot))


def _expired(rng: np.random.Generator, batch: Batch) -> Batch:
    rows = chosen_rows(rng, batch, "expired-component", _labelled(batch))
    day = batch.records.operations["day"][batch.records.component_owner[rows]]
    found = row_faults(batch, "expired-component", rows, "expiry_date")
    return spoiled(batch, found, **_changed(batch, rows, "expiry", day - rng.integers(5, 400, len(rows))))


def _wrong_digits(rng: np.random.Generator, batch: Batch) -> Batch:
    return _faulty_labels(rng, batch, "udi-check-digit", WRONG_DIGIT)


def _other_devices(rng: np.random.Generator, batch: Batch) -> Batch:
    return _faulty_labels(rng, batch, "udi-other-device", OTHER_DEVICE)


def _faulty_labels(rng: np.random.Generator, batch: Batch, kind: str, fault: int) -> Batch:
    rows = chosen_rows(rng, batch, kind, _labelled(batch))
    label = batch.records.components["label"][rows] + 2 * fault
    return spoiled(batch, row_faults(batch, kind, rows, "udi"), **_changed(batch, rows, "label", label))


def _repeated_serials(rng: np.random.Generator, batch: Batch) -> Batch:
    """Write the serial number that a component of the same entry had in another patient before."""
    components, operations = batch.records.components, batch.records.operations
    labelled = _labelled(batch) & (components["action"] == IMPLANTED)
    rows = chosen_rows(rng, batch, "repeated-serial", labelled)
    owner = batch.records.component_owner
    pool = np.flatnonzero(labelled & (batch.sent & ~batch.spoiled)[owner])
    pool = pool[np.lexsort((operations["day"][owner[pool]], components["entry"][pool]))]
    place = np.searchsorted(_by_entry_and_day(batch, pool), _by_entry_and_day(batch, rows), side="left") - 1
    other = pool[np.maximum(place, 0)] if len(pool) else rows[:0]
    same = (place >= 0) & (components["entry"][other] == components["entry"][rows]) if len(pool) else rows[:0] > 0
    same &= operations["patient"][owner[other]] != operations["patient"][owner[rows]]
    rows, other = rows[same], other[same]
    # One that is itself copied keeps its own number.
    kept = ~np.isin(rows, other)
    rows, other = rows[kept], other[kept]
    found = row_faults(batch, "repeated-serial", rows, "serial")
    batch = spoiled(batch, found, **_changed(batch, rows, "serial", components["serial"][other]))
    both = batch.spoiled.copy()
    both[owner[other]] = True
    return replace(batch, spoiled=both)


def _by_entry_and_day(batch: Batch, rows: np.ndarray) -> np.ndarray:
    """Number rows of components so that those of one entry come together, by day."""
    day = batch.records.operations["day"][batch.records.component_owner[rows]]
    return (batch.records.components["entry"][rows].astype(np.int64) << 20) + day
