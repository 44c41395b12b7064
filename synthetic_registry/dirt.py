"""
Dirt on purpose: every kind of fault at its rate, put into the records as a hospital would.
"""

from dataclasses import replace

import numpy as np

from regdash import vocabulary as words
from synthetic_registry.batch import Batch
from synthetic_registry.dirty_cells import blank_cells, odd_dates, unknown_numbers
from synthetic_registry.dirty_copies import corrections, second_ids, sent_again
from synthetic_registry.dirty_links import false_links, missed_links, wrong_sides
from synthetic_registry.faults import Faults, all_faults, faults
from synthetic_registry.records import EMPTY, PRIMARY, Records, ragged
from synthetic_registry.sending import submissions_of


def soil(batch: Batch) -> tuple[Batch, Faults]:
    """Put all dirt into true records; returns them as sent, and the list of their faults."""
    # A record has one fault of its own at most, so the rarest kinds choose first. Copies come last: they repeat
    # what is in a record by then.
    for step in (
        _after_death,
        missed_links,
        false_links,
        _as_primaries,
        wrong_sides,
        odd_dates,
        blank_cells,
        unknown_numbers,
        corrections,
        sent_again,
        second_ids,
    ):
        batch = step(batch.register.setting.stream(f"dirt, {step.__name__}"), batch)
    unsent = faults("not-sent", np.flatnonzero(~batch.sent), False)
    return batch, all_faults([*batch.faults, unsent])


def _after_death(rng: np.random.Generator, batch: Batch) -> Batch:
    """Give revisions a date after the patient's death, which the deaths feed will tell."""
    operations, last = batch.records.operations, batch.register.setting.days.last
    exits, patient = batch.register.lives.exits, operations["patient"]
    death = exits.death_day[patient]
    known = (death < last) & (death <= exits.loss_day[patient])
    eligible = batch.is_revision & (operations["stage"] == words.STAGES.index("single")) & known
    rate = batch.dirt.after_death * len(batch.records) / max(int((eligible & batch.sent).sum()), 1)
    at = batch.choose(rng, eligible, rate)
    day = np.minimum(death[at] + rng.integers(1, 400, len(at)), last).astype(np.int32)
    submission = batch.submission.copy()
    submission[at] = submissions_of(batch.schedule, operations["hospital"][at], day, 0)
    batch = batch.changed(at, faults("after-death", at, True, "operation_date"), day=day, date=day)
    return replace(batch, submission=submission)


def _as_primaries(rng: np.random.Generator, batch: Batch) -> Batch:
    """Send revisions as primaries: some still carry their reasons, others look like a primary in every field."""
    operations, joints = batch.records.operations, batch.register.joints
    filled = operations["joint_class"] != EMPTY
    at = batch.choose(rng, batch.is_revision & filled & (operations["stage"] == 0), batch.dirt.revision_as_primary)
    keeps = rng.random(len(at)) < batch.dirt.reasons_kept
    joint = operations["joint"][at]
    known = joint < joints.primaries.registered
    blank = np.full(len(at), EMPTY, np.uint8)
    found = faults("revision-as-primary", at, keeps | known, "kind")
    batch = batch.changed(
        at,
        found,
        kind=np.full(len(at), PRIMARY, np.uint8),
        diagnosis=joints.diagnosis[joint],
        **dict.fromkeys(("stage", "action", "stem", "augment", "graft"), blank),
    )
    return replace(batch, records=_only_implanted(batch.records, at[~keeps]))


def _only_implanted(records: Records, at: np.ndarray) -> Records:
    """Leave out the reasons and the removed components of some operations."""
    removed = words.COMPONENT_ACTIONS.index("removed")
    reason_kept = np.ones(len(records.reasons["reason"]), bool)
    component_kept = np.ones(len(records.components["entry"]), bool)
    reason_kept[ragged(records.reason_counts, at)] = False
    rows = ragged(records.component_counts, at)
    component_kept[rows] = records.components["action"][rows] != removed
    owner = np.repeat(np.arange(len(records)), records.component_counts)
    reason_counts = records.reason_counts.copy()
    reason_counts[at] = 0
    return Records(
        records.operations,
        {name: values[component_kept] for name, values in records.components.items()},
        {name: values[reason_kept] for name, values in records.reasons.items()},
        np.bincount(owner[component_kept], minlength=len(records)),
        reason_counts,
    )
