"""
Dirt by sending an operation more than once: the same again, under another id, or first wrong and then right.
"""

import numpy as np

from regdash import vocabulary as words
from synthetic_registry.batch import Batch
from synthetic_registry.dirty_cells import UNKNOWN
from synthetic_registry.faults import faults
from synthetic_registry.records import EMPTY, Columns

# Fields that hospitals correct, and their lists of words; bmi has none.
CORRECTED = {
    "bmi": (),
    "asa": words.ASA_CLASSES[:4],
    "approach": words.APPROACHES[:-1],
    "prophylaxis": words.PROPHYLAXES[:-1],
    "technology": words.TECHNOLOGIES[:-1],
}
OTHER_APPROACH = words.APPROACHES.index("other")
PLAIN = tuple(words.TECHNOLOGIES.index(word) for word in ("conventional", "patient-specific guides"))


def corrections(rng: np.random.Generator, batch: Batch) -> Batch:
    """Send an operation with a wrong field, and once more, right, within a year."""
    at = batch.choose(rng, batch.has_later, batch.dirt.corrected)
    names = np.array(list(CORRECTED))[rng.integers(0, len(CORRECTED), len(at))]
    operations = batch.records.operations
    values = {name: operations[name] for name in CORRECTED}
    given = np.array(
        [values[name][row] != (EMPTY if CORRECTED[name] else UNKNOWN) for name, row in zip(names, at)], dtype=bool
    )
    # A robot's or navigation's system would have to be wrong as well.
    given &= (names != "technology") | np.isin(values["technology"][at], PLAIN)
    at, names = at[given], names[given]
    columns = {name: _wrong(name, operations, at[names == name])[at] for name in CORRECTED}
    height = operations["height"][at].astype(float) / 100
    by_bmi = np.rint(columns["bmi"] * height**2).astype(operations["weight"].dtype)
    weighed = (names == "bmi") & (operations["weight"][at] >= 0)
    columns["weight"] = np.where(weighed, by_bmi, operations["weight"][at])
    batch = batch.added(at, batch.records.take(at), _later(rng, batch, at, 1, 4))
    return batch.changed(at, faults("corrected-later", at, False, names), **columns)


def _wrong(name: str, operations: Columns, at: np.ndarray) -> np.ndarray:
    """Change some values into other possible ones."""
    wrong = operations[name].copy()
    if name == "technology":
        wrong[at] = np.where(wrong[at] == PLAIN[0], PLAIN[1], PLAIN[0])
    elif name == "approach":
        first = np.array([words.APPROACHES.index(words.OF_JOINT["approach"][joint][0]) for joint in words.JOINTS])
        wrong[at] = np.where(wrong[at] == OTHER_APPROACH, first[operations["limb"][at]], OTHER_APPROACH)
    else:
        wrong[at] = (wrong[at] + 1) % len(CORRECTED[name]) if CORRECTED[name] else wrong[at] + 37
    return wrong


def sent_again(rng: np.random.Generator, batch: Batch) -> Batch:
    """Send the same rows again in a later submission."""
    at = batch.choose(rng, batch.has_later, batch.dirt.sent_again)
    found = faults("sent-again", len(batch.records) + np.arange(len(at)), True)
    return batch.added(at, batch.records.take(at), _later(rng, batch, at, 1, 3)).changed(at, found)


def second_ids(rng: np.random.Generator, batch: Batch) -> Batch:
    """Send the same operation under another id, in the same submission or a later one."""
    at = batch.choose(rng, batch.sent, batch.dirt.second_id)
    found = faults("second-id", len(batch.records) + np.arange(len(at)), True, "operation_id")
    copies = batch.records.take(at)
    copies = copies.with_operations(number=next_numbers(batch, copies.operations["hospital"]))
    return batch.added(at, copies, _later(rng, batch, at, 0, 2)).changed(at, found)


def next_numbers(batch: Batch, hospital: np.ndarray) -> np.ndarray:
    """Go on numbering operations within each hospital."""
    operations = batch.records.operations
    highest = np.zeros(len(batch.several.hospitals), np.int64)
    np.maximum.at(highest, operations["hospital"], operations["number"])
    order = np.argsort(hospital, kind="stable")
    nth = np.empty(len(hospital), np.int64)
    nth[order] = np.arange(len(hospital)) - np.searchsorted(hospital[order], hospital[order], side="left")
    return (highest[hospital] + 1 + nth).astype(np.int32)


def _later(rng: np.random.Generator, batch: Batch, at: np.ndarray, least: int, most: int) -> np.ndarray:
    """Draw a later submission of the same hospital."""
    wished = batch.submission[at] + rng.integers(least, most, len(at), endpoint=True)
    return np.minimum(wished, batch.schedule.last_of(batch.submission[at]))
