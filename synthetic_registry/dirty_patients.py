"""
Dirt in whose record it is and when: after death or loss, under the pseudonym of somebody unlike, too often.
"""

from dataclasses import replace

import numpy as np

from regdash import vocabulary as words
from synthetic_registry.batch import Batch
from synthetic_registry.dirty_copies import next_numbers
from synthetic_registry.faults import faults
from synthetic_registry.sending import submissions_of

SINGLE = words.STAGES.index("single")


def after_death(rng: np.random.Generator, batch: Batch) -> Batch:
    """Give revisions a date after the patient's death, which the deaths feed will tell."""
    exits, patient = batch.several.exits, batch.records.operations["patient"]
    death = exits.death_day[patient]
    return _moved(rng, batch, "after-death", death, death <= exits.loss_day[patient], batch.dirt.after_death)


def after_loss(rng: np.random.Generator, batch: Batch) -> Batch:
    """Give revisions a date after the patient emigrated or opted out, which the losses feed will tell."""
    exits, patient = batch.several.exits, batch.records.operations["patient"]
    loss = exits.loss_day[patient]
    return _moved(rng, batch, "after-loss", loss, loss < exits.death_day[patient], batch.dirt.odd.get("after-loss", 0))


def _moved(
    rng: np.random.Generator, batch: Batch, kind: str, end: np.ndarray, known: np.ndarray, share: float
) -> Batch:
    """Move revisions past a day that a feed tells; `share` is of all operations."""
    operations, last = batch.records.operations, batch.several.days.last
    eligible = batch.is_revision & (operations["stage"] == SINGLE) & known & (end < last)
    rate = share * len(batch.records) / max(int((eligible & batch.sent).sum()), 1)
    at = batch.choose(rng, eligible, rate)
    day = np.minimum(end[at] + rng.integers(1, 400, len(at)), last).astype(np.int32)
    submission = batch.submission.copy()
    submission[at] = submissions_of(batch.schedule, operations["hospital"][at], day, 0)
    stays = {"admission": day, "discharge": day}
    batch = batch.changed(at, faults(kind, at, True, "operation_date"), day=day, date=day, **stays)
    return replace(batch, submission=submission)


def collisions(rng: np.random.Generator, batch: Batch) -> Batch:
    """Send primaries under the pseudonym of a patient operated earlier, of the other sex and much older or younger."""
    several, operations = batch.several, batch.records.operations
    own = operations["joint"]
    alone = ~(several.column("second") | several.column("same_day"))[own] & (operations["sex"] < 2)
    at = batch.choose(rng, ~batch.is_revision & alone, batch.dirt.odd.get("pseudonym-collision", 0))
    spoiled = np.zeros(several.patients + batch.strangers, bool)
    spoiled[operations["patient"][batch.spoiled | ~batch.sent]] = True
    # Candidates are primaries sent as they are; the one under whose name it goes was operated before.
    pool = np.flatnonzero(~batch.is_revision & ~spoiled[operations["patient"]] & (operations["sex"] < 2))
    pool = pool[np.argsort(operations["day"][pool], kind="stable")]
    before = np.searchsorted(operations["day"][pool], operations["day"][at], side="left")
    other = pool[np.minimum((rng.random(len(at)) * before).astype(np.int64), len(pool) - 1)]
    unlike = (operations["sex"][other] != operations["sex"][at]) & (before > 0)
    unlike &= np.abs(operations["birth_year"][other].astype(int) - operations["birth_year"][at]) > 5
    unlike &= operations["patient"][other] != operations["patient"][at]
    at, other = at[unlike], other[unlike]
    found = faults("pseudonym-collision", at, True, "patient_id")
    return batch.changed(at, found, patient=operations["patient"][other])


def second_deaths(rng: np.random.Generator, batch: Batch) -> Batch:
    """Let the deaths feed tell another day of death of some patients, in a later feed."""
    exits, operations = batch.several.exits, batch.records.operations
    last = batch.several.days.last
    patient = np.minimum(operations["patient"], batch.several.patients - 1)  # revisions may be nobody's
    death = exits.death_day[patient]
    later = death + rng.integers(100, 300, len(death))
    known = (death <= exits.loss_day[patient]) & (later <= last)
    at = batch.choose(rng, known & ~batch.is_revision, batch.dirt.odd.get("death-two-dates", 0))
    _, first = np.unique(operations["patient"][at], return_index=True)
    at = at[first]
    batch = batch.changed(at, faults("death-two-dates", at, True, "death_date", "deaths"))
    return replace(batch, second_deaths=(operations["patient"][at], later[at]))


def too_many_operations(rng: np.random.Generator, batch: Batch) -> Batch:
    """Send a primary three times as operations of different years, as if one patient stood for several."""
    operations, days = batch.records.operations, batch.several.days
    early = operations["day"] + 900 < days.last
    at = batch.choose(rng, ~batch.is_revision & early, batch.dirt.odd.get("too-many-operations", 0))
    hospital = operations["hospital"][at]
    for later in (400, 800):
        copies, count = batch.records.take(at), len(batch.records)
        day = (copies.operations["day"] + later).astype(np.int32)
        moved = dict.fromkeys(("day", "date", "admission", "discharge"), day)
        copies = copies.with_operations(**moved, number=next_numbers(batch, hospital))
        batch = batch.added(at, copies, submissions_of(batch.schedule, hospital, day, 0))
        batch = batch.changed(at, faults("too-many-operations", count + np.arange(len(at)), True))
    return batch
