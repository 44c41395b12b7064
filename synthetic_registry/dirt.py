"""
Dirt on purpose: every kind of fault at its rate, put into the records as a hospital would.
"""

from dataclasses import replace

import numpy as np

from regdash import vocabulary as words
from synthetic_registry.batch import Batch
from synthetic_registry.dirty_cells import blank_cells, odd_dates, unknown_numbers
from synthetic_registry.dirty_components import odd_components
from synthetic_registry.dirty_copies import corrections, second_ids, sent_again
from synthetic_registry.dirty_fields import View, odd_fields
from synthetic_registry.dirty_labels import odd_labels
from synthetic_registry.dirty_links import false_links, missed_links, wrong_sides
from synthetic_registry.dirty_patients import after_death, after_loss, collisions, second_deaths, too_many_operations
from synthetic_registry.dirty_reports import form_changes, under_reporting
from synthetic_registry.dirty_revisions import odd_revisions
from synthetic_registry.faults import Faults, all_faults, faults
from synthetic_registry.records import EMPTY, PRIMARY, Records


def soil(batch: Batch) -> tuple[Batch, Faults]:
    """Put all dirt into true records; returns them as sent, and the list of their faults."""
    # A record has one fault of its own at most, so the rarest kinds choose first. Copies come last: they repeat
    # what is in a record by then.
    for step in (
        form_changes,
        under_reporting,
        after_death,
        after_loss,
        missed_links,
        false_links,
        _as_primaries,
        wrong_sides,
        odd_dates,
        blank_cells,
        unknown_numbers,
        collisions,
        odd_fields,
        odd_labels,
        odd_components,
        odd_revisions,
        second_deaths,
        too_many_operations,
        corrections,
        sent_again,
        second_ids,
    ):
        batch = step(batch.several.stream(f"dirt, {step.__name__}"), batch)
    withheld = np.concatenate([found.of_kind("under-reported").record for found in batch.faults])
    late = ~batch.sent
    late[withheld] = False
    unsent = faults("not-sent", np.flatnonzero(late), False)
    return batch, all_faults([*batch.faults, unsent])


def _as_primaries(rng: np.random.Generator, batch: Batch) -> Batch:
    """Send revisions as primaries: some still carry their reasons, others look like a primary in every field."""
    operations, several = batch.records.operations, batch.several
    filled = operations["joint_class"] != EMPTY
    at = batch.choose(rng, batch.is_revision & filled & (operations["stage"] == 0), batch.dirt.revision_as_primary)
    keeps = rng.random(len(at)) < batch.dirt.reasons_kept
    joint = operations["joint"][at]
    known = View(batch).linked[at]  # its primary is sent as it is, and nothing else is put on that
    blank = np.full(len(at), EMPTY, np.uint8)
    found = faults("revision-as-primary", at, keeps | known, "kind")
    batch = batch.changed(
        at,
        found,
        kind=np.full(len(at), PRIMARY, np.uint8),
        diagnosis=several.column("diagnosis")[joint],
        **dict.fromkeys(("stage", "action", "stem", "augment", "graft"), blank),
    )
    return replace(batch, records=_only_implanted(batch.records, at[~keeps])).protected(at[known])


def _only_implanted(records: Records, at: np.ndarray) -> Records:
    """Leave out the reasons and the removed components of some operations."""
    chosen = np.zeros(len(records), bool)
    chosen[at] = True
    implanted = records.components["action"] == words.COMPONENT_ACTIONS.index("implanted")
    return records.kept(~chosen[records.component_owner] | implanted, ~chosen[records.reason_owner])
