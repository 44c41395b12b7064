"""
Dirt in single cells: left empty, impossible, or unknown to the catalogue.
"""

from dataclasses import replace

import numpy as np

from regdash import vocabulary as words
from synthetic_registry.batch import Batch
from synthetic_registry.faults import faults
from synthetic_registry.records import EMPTY
from synthetic_registry.streams import spread

UNKNOWN = -1  # an empty cell in a column of numbers


def odd_dates(rng: np.random.Generator, batch: Batch) -> Batch:
    """Write dates that no calendar has, or that lie in the future."""
    at = batch.choose(rng, np.ones(len(batch.records), bool), batch.dirt.impossible_date)
    days = batch.several.days
    dates = [
        _odd_date(days.date_of(day).isoformat(), kind)
        for day, kind in zip(batch.records.operations["day"][at], rng.integers(0, 4, len(at)))
    ]
    codes = batch.first_odd + len(batch.odd_dates) + np.arange(len(at))
    batch = batch.changed(at, faults("impossible-date", at, True, "operation_date"), date=codes.astype(np.int32))
    return replace(batch, odd_dates=(*batch.odd_dates, *dates))


def _odd_date(written: str, kind: int) -> str:
    """
    Spoil a date.

    >>> [_odd_date("2014-05-17", kind) for kind in range(4)]
    ['2014-13-17', '2014-02-30', '2014-00-17', '2114-05-17']
    """
    year, month, day = written.split("-")
    return (f"{year}-13-{day}", f"{year}-02-30", f"{year}-00-{day}", f"{int(year) + 100}-{month}-{day}")[kind]


def _by_hospital(rng: np.random.Generator, batch: Batch) -> np.ndarray:
    """Draw how much more or less often each hospital leaves a cell empty; (operations,) factors of mean 1."""
    hospital = batch.records.operations["hospital"]
    factor = np.exp(batch.dirt.clustering * spread(rng, len(batch.several.hospitals)))
    records = np.bincount(hospital, minlength=len(factor))
    return (factor * records.sum() / (factor * records).sum())[hospital]


def blank_cells(rng: np.random.Generator, batch: Batch) -> Batch:
    """Leave cells empty, column by column; each hospital has its own habits."""
    columns, found = {}, []
    year = batch.years()
    for name, trend in batch.dirt.missing.items():
        column = name.removesuffix("_id")
        values = batch.records.operations[column].copy()
        rate = batch.several.days.shares(trend)[year] * _by_hospital(rng, batch)
        empty = EMPTY if values.dtype == np.uint8 else UNKNOWN
        at = np.flatnonzero((rng.random(len(values)) < rate) & (values != empty) & batch.sent)
        values[at] = empty
        columns[column] = values
        found.append(faults("missing", at, True, name))
    batch = replace(batch, records=batch.records.with_operations(**columns), faults=(*batch.faults, *found))
    return _blank_marks(rng, _blank_lots(rng, batch))


def _blank_lots(rng: np.random.Generator, batch: Batch) -> Batch:
    """Leave lots empty."""
    records = batch.records
    owner = records.component_owner
    rate = batch.dirt.missing_lot * _by_hospital(rng, batch)[owner]
    lot = records.components["lot"].copy()
    at = np.flatnonzero((rng.random(len(lot)) < rate) & (lot != UNKNOWN) & batch.sent[owner])
    lot[at] = UNKNOWN
    found = faults("missing", owner[at], True, "lot", "components", records.components["line_no"][at])
    return batch.with_components(found, lot=lot)


def _blank_marks(rng: np.random.Generator, batch: Batch) -> Batch:
    """Mark no reason as leading."""
    records = batch.records
    owner = records.reason_owner
    draw, rate = rng.random(len(records)), batch.dirt.missing_mark * _by_hospital(rng, batch)
    unmarked = (draw < rate) & batch.sent & (records.reason_counts > 0)
    leads = np.where(unmarked[owner], EMPTY, records.reasons["leads"]).astype(np.uint8)
    at = np.flatnonzero(unmarked)
    several = records.reason_counts[at] > 1  # a single reason leads, marked or not
    found = faults("no-leading-reason", at, several, "leads", "reasons", 1)
    return replace(batch, records=records.with_reasons(leads=leads), faults=(*batch.faults, found))


def unknown_numbers(rng: np.random.Generator, batch: Batch) -> Batch:
    """Write catalogue numbers that the catalogue does not know."""
    records, entries = batch.records, len(batch.several.entries)
    owner = records.component_owner
    implanted = records.components["action"] == words.COMPONENT_ACTIONS.index("implanted")
    entry = records.components["entry"].copy()
    at = np.flatnonzero(implanted & (rng.random(len(entry)) < batch.dirt.unknown_catalogue_no) & batch.sent[owner])
    entry[at] += entries
    line_no = records.components["line_no"][at]
    found = faults("unknown-catalogue-no", owner[at], True, "catalogue_no", "components", line_no)
    return batch.with_components(found, entry=entry)
