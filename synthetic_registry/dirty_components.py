"""
Dirt in which components an operation has: of the wrong side or size, another joint's, off the market, twice in one
place, not there, or taken out of a joint that they are not in.
"""

import numpy as np

from regdash import vocabulary as words
from synthetic_registry import all_words
from synthetic_registry.batch import Batch
from synthetic_registry.dirty_fields import KNEE, View
from synthetic_registry.dirty_labels import chosen_rows, row_faults, spoiled
from synthetic_registry.faults import faults
from synthetic_registry.parameters import SIDED
from synthetic_registry.records import Records
from synthetic_registry.true_components import IMPLANTED, REMOVED

TO_OTHER_SIDE = len(SIDED) // 3  # entries from one side's variant to the other's
BEARINGS = ("bearing insert", "liner", "dual-mobility bearing", "humeral liner", "glenoid liner")


class Rows:
    """What the kinds of faults ask of the rows of components."""

    def __init__(self, batch: Batch) -> None:
        several, components = batch.several, batch.records.components
        self.entry, self.role = components["entry"], components["role"]
        self.owner = batch.records.component_owner
        known = self.entry < len(several.entries)
        self.in_catalogue = np.where(known, self.entry, 0)
        view = View(batch)
        self.linked, self.known = view.linked[self.owner], view.known
        self.limb, self.joint_class = view.limb[self.owner], view["joint_class"][self.owner]
        self.one_device = (view.limb != KNEE)[self.owner] | view.was_total[self.owner]
        self.in_primary = view.primary[self.owner] & view.known[self.owner] & (components["action"] == IMPLANTED)
        self.removed = known & (components["action"] == REMOVED)
        self.grid = np.concatenate([catalogue.grid for catalogue in several.catalogues])[self.in_catalogue]
        self.revision_no = view.revision_no[self.owner]

    def naming(self, place: int) -> np.ndarray:
        """Say which rows have a role that names a construct of their operation's class, first or second; bool."""
        named = np.zeros((len(words.JOINTS), len(all_words.CLASSES) + 1, len(all_words.ROLES)), bool)
        for limb, joint in enumerate(words.JOINTS):
            for name, pair in words.NAMING_ROLES[joint].items():
                for role in pair[place]:
                    named[limb, all_words.CLASSES.index(name), all_words.ROLES.index(role)] = True
        return named[self.limb, np.minimum(self.joint_class, len(all_words.CLASSES)), self.role]


def odd_components(rng: np.random.Generator, batch: Batch) -> Batch:
    """Put each kind of fault on some of the components that can have it; rows that come or go come last."""
    rows = Rows(batch)
    for step in (_removed_before, _not_in_joint, _other_sides, _unfit_sizes, _other_joints, _off_market):
        batch = step(rng, batch, rows)
    return _missing(rng, _twice(rng, batch))


def _with_entries(batch: Batch, kind: str, at: np.ndarray, entries: np.ndarray) -> Batch:
    new = batch.records.components["entry"].copy()
    new[at] = entries
    return spoiled(batch, row_faults(batch, kind, at, "catalogue_no"), entry=new)


def _other_sides(rng: np.random.Generator, batch: Batch, rows: Rows) -> Batch:
    sides = np.array([("", "left", "right").index(entry.side) for entry in batch.several.entries])[rows.in_catalogue]
    at = chosen_rows(rng, batch, "component-other-side", rows.in_primary & (sides > 0))
    step = np.where(sides[at] == 1, TO_OTHER_SIDE, -TO_OTHER_SIDE)
    return _with_entries(batch, "component-other-side", at, rows.entry[at] + step)


def _unfit_sizes(rng: np.random.Generator, batch: Batch, rows: Rows) -> Batch:
    bearing = np.isin(rows.role, [all_words.ROLES.index(role) for role in BEARINGS])
    at = chosen_rows(rng, batch, "sizes-unfit", rows.in_primary & bearing & (rows.grid[:, 1] > 2))
    return _with_entries(batch, "sizes-unfit", at, _resized(rows, at))


def _resized(rows: Rows, at: np.ndarray) -> np.ndarray:
    """Find the entries of another size of the same components."""
    size, sizes, step = rows.grid[at].T
    return rows.entry[at] + ((size + sizes // 2) % sizes - size) * step


def _other_joints(rng: np.random.Generator, batch: Batch, rows: Rows) -> Batch:
    """Write a number of another joint's catalogue; the components that name the construct are left alone."""
    starts, limb = batch.several.entry_starts, batch.several.entry_limb
    if len(starts) < 3:
        return batch
    roles = [all_words.ROLES.index(role) for role in BEARINGS]
    at = chosen_rows(rng, batch, "other-joints-component", rows.in_primary & np.isin(rows.role, roles))
    other = (limb[rows.entry[at]] + 1) % (len(starts) - 1)
    used = [np.flatnonzero([entry.used for entry in own.entries]) for own in batch.several.catalogues]
    chosen = [starts[kind] + used[kind][int(draw * len(used[kind]))] for kind, draw in zip(other, rng.random(len(at)))]
    return _with_entries(batch, "other-joints-component", at, np.array(chosen, np.int64))


def _off_market(rng: np.random.Generator, batch: Batch, rows: Rows) -> Batch:
    """Write the number of a component of the same type that was launched years later."""
    at = chosen_rows(rng, batch, "off-market", rows.in_primary & rows.naming(0))
    year = batch.several.days.year_numbers(batch.records.operations["day"][rows.owner[at]])
    entries = np.full(len(at), -1, np.int64)
    for place, (row, when) in enumerate(zip(at.tolist(), year.tolist())):
        number = int(batch.several.entry_limb[rows.entry[row]])
        entries[place] = _later_entry(batch, number, int(rows.entry[row]), when, rng.random())
    found = entries >= 0
    return _with_entries(batch, "off-market", at[found], entries[found])


def _later_entry(batch: Batch, number: int, entry: int, year: int, draw: float) -> int:
    """Find an entry of another family of the same type that came to the market after a year, or -1."""
    catalogue, start = batch.several.catalogues[number], int(batch.several.entry_starts[number])
    family, families = int(catalogue.family(np.array([entry - start]))[0]), catalogue.implants.families
    like = (
        (families.joint_class == families.joint_class[family])
        & (np.array(families.bearing) == families.bearing[family])
        & (np.array(families.constraint) == families.constraint[family])
        & (families.sided == families.sided[family])
        & (families.launch > year)
    )
    like &= np.array([roles == families.roles[family] for roles in families.roles])
    chosen = np.flatnonzero(like)
    if not len(chosen):
        return -1
    first = catalogue.at(0, np.array([family, chosen[int(draw * len(chosen))]]), np.zeros(2, int), np.zeros(2, int))
    return entry + int(first[1] - first[0])


def _not_in_joint(rng: np.random.Generator, batch: Batch, rows: Rows) -> Batch:
    """Let a first revision take out another size than the primary put in."""
    can = rows.removed & rows.linked & (rows.revision_no == 1) & (rows.grid[:, 1] > 2)
    at = chosen_rows(rng, batch, "removed-not-in-joint", can)
    return _with_entries(batch, "removed-not-in-joint", at, _resized(rows, at)).protected(rows.owner[at])


def _removed_before(rng: np.random.Generator, batch: Batch, rows: Rows) -> Batch:
    """Let a second revision take out what the first has taken out already, and something else has replaced."""
    operations = batch.records.operations
    whole = batch.sent & ~batch.spoiled
    can = rows.removed & rows.linked & rows.one_device & (rows.revision_no == 2)
    at = chosen_rows(rng, batch, "removed-before", can)
    earlier = np.flatnonzero(rows.removed & (rows.revision_no == 1) & (whole & rows.known)[rows.owner])
    joint_role = operations["joint"][rows.owner].astype(np.int64) * 256 + rows.role
    earlier = earlier[np.argsort(joint_role[earlier], kind="stable")]
    place = np.searchsorted(joint_role[earlier], joint_role[at])
    found = place < len(earlier)
    place, at = place[found], at[found]
    same = (joint_role[earlier[place]] == joint_role[at]) & (rows.entry[earlier[place]] != rows.entry[at])
    changed = _with_entries(batch, "removed-before", at[same], rows.entry[earlier[place[same]]])
    return changed.protected(rows.owner[at[same]])


def _twice(rng: np.random.Generator, batch: Batch) -> Batch:
    """Write the first component of a primary twice."""
    rows = Rows(batch)
    can = rows.in_primary & rows.naming(0) & batch.whole_rows[rows.owner]
    at = chosen_rows(rng, batch, "duplicate-position", can)
    records = batch.records
    repeats = np.ones(len(rows.owner), np.int64)
    repeats[at] = 2
    components = {name: np.repeat(values, repeats) for name, values in records.components.items()}
    counts = records.component_counts.copy()
    counts[rows.owner[at]] += 1
    second = at + np.arange(len(at)) + 1  # rows of the second ones
    for name, empty in (("label", 0), ("serial", -1), ("expiry", -1)):
        components[name][second] = empty
    new = _numbered(Records(records.operations, components, records.reasons, counts, records.reason_counts))
    line_no = new.components["line_no"][second]
    found = faults("duplicate-position", rows.owner[at], True, "role", "components", line_no)
    return batch.with_records(found.record, found, new)


def _missing(rng: np.random.Generator, batch: Batch) -> Batch:
    """Leave out the second of the components that name a primary's construct."""
    rows = Rows(batch)
    second = rows.naming(1) & ~rows.naming(0)
    at = chosen_rows(rng, batch, "component-missing", rows.in_primary & second & batch.whole_rows[rows.owner])
    kept = np.ones(len(rows.owner), bool)
    kept[at] = False
    reasons = np.ones(len(batch.records.reasons["reason"]), bool)
    found = faults("component-missing", rows.owner[at], True, "", "operations")
    return batch.with_records(found.record, found, batch.records.kept(kept, reasons))


def _numbered(records: Records) -> Records:
    """Number the lines of components anew where their numbers repeat."""
    counts = records.component_counts
    line = np.arange(int(counts.sum())) - np.repeat(np.cumsum(counts) - counts, counts) + 1
    return records.with_components(line_no=line.astype(np.uint8))
