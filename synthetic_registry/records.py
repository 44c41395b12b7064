"""
The true records of everything done in the register's time, as hospitals would write them if nobody
erred: operations, components and reasons. Words are positions in lists, empty cells are EMPTY.
"""

from dataclasses import dataclass

import numpy as np

from regdash import vocabulary as words
from synthetic_registry.catalogue import Catalogue
from synthetic_registry.parts import NONE, OPTIONAL, place_roles, primary_parts
from synthetic_registry.register import Register
from synthetic_registry.revisions import NOT_GIVEN, Revisions

EMPTY = 255  # an empty cell in a column of words
NO, YES = 0, 1
PRIMARY, REVISION = 0, 1
assert words.KINDS == ("primary", "revision")
LOT_DAYS = 182  # a lot of one component is on the shelf for half a year

Columns = dict[str, np.ndarray]


@dataclass(frozen=True)
class Records:
    """
    Three tables by column. Components and reasons come operation by operation, in the order of `operations`;
    `component_counts` and `reason_counts` say how many rows belong to each.
    """

    operations: Columns
    components: Columns
    reasons: Columns
    component_counts: np.ndarray
    reason_counts: np.ndarray

    def take(self, at: np.ndarray) -> "Records":
        """Choose operations, in any order and more than once, with their components and reasons."""
        components = ragged(self.component_counts, at)
        reasons = ragged(self.reason_counts, at)
        return Records(
            _taken(self.operations, at),
            _taken(self.components, components),
            _taken(self.reasons, reasons),
            self.component_counts[at],
            self.reason_counts[at],
        )

    def with_operations(self, **columns: np.ndarray) -> "Records":
        """Replace columns of the operations."""
        return Records(
            {**self.operations, **columns}, self.components, self.reasons, self.component_counts, self.reason_counts
        )

    def __len__(self) -> int:
        return len(self.component_counts)


def _taken(columns: Columns, at: np.ndarray) -> Columns:
    return {name: values[at] for name, values in columns.items()}


def ragged(counts: np.ndarray, at: np.ndarray) -> np.ndarray:
    """
    Find the rows of chosen groups, where group g has counts[g] rows one after the other.

    >>> ragged(np.array([2, 1, 3]), np.array([2, 0])).tolist()
    [3, 4, 5, 0, 1]
    """
    first = np.cumsum(counts) - counts
    chosen = counts[at]
    within = np.arange(chosen.sum()) - np.repeat(np.cumsum(chosen) - chosen, chosen)
    return np.repeat(first[at], chosen) + within


def together(parts: list[Records]) -> Records:
    """Put records one after the other."""

    def joined(table: str) -> Columns:
        return {
            name: np.concatenate([getattr(part, table)[name] for part in parts]) for name in getattr(parts[0], table)
        }

    return Records(
        joined("operations"),
        joined("components"),
        joined("reasons"),
        np.concatenate([part.component_counts for part in parts]),
        np.concatenate([part.reason_counts for part in parts]),
    )


def make_records(register: Register, catalogue: Catalogue, revisions: Revisions) -> Records:
    """Write down every primary and revision of the register's time, numbered within each hospital by date."""
    records = together([_primaries(register, catalogue), _revisions(register, catalogue, revisions)])
    hospital, day = records.operations["hospital"], records.operations["day"]
    order = np.lexsort((np.arange(len(records)), day, hospital))
    records = records.take(order)
    hospital = records.operations["hospital"]
    first = np.searchsorted(hospital, hospital, side="left")
    return records.with_operations(number=(np.arange(len(records)) - first + 1).astype(np.int32))


def _primaries(register: Register, catalogue: Catalogue) -> Records:
    joints, count = register.joints, register.joints.primaries.registered
    at = np.arange(count)
    nothing = np.full(count, EMPTY, np.uint8)
    operations = {
        **_who_and_where(register, at, joints.primaries.day[at], joints.pair[at]),
        "kind": np.full(count, PRIMARY, np.uint8),
        **dict.fromkeys(("stage", "action", "stem", "augment", "graft"), nothing),
        **{
            name: getattr(joints, name)[at]
            for name in (
                *("joint_class", "compartment", "bearing", "constraint", "fixation", "patella"),
                *("approach", "technology", "prophylaxis", "diagnosis", "asa", "bmi"),
            )
        },
    }
    parts = primary_parts(joints, catalogue, at)
    components, counts = _component_rows(catalogue, np.full_like(parts, NONE), parts, operations["day"], [])
    none = {"line_no": np.zeros(0, np.uint8), "reason": np.zeros(0, np.uint8), "leads": np.zeros(0, np.uint8)}
    return Records(operations, components, none, counts, np.zeros(count, np.int64))


def _who_and_where(register: Register, joint: np.ndarray, day: np.ndarray, pair: np.ndarray) -> Columns:
    joints, units = register.joints, register.setting.units
    return {
        "joint": joint.astype(np.int32),
        "patient": joints.primaries.patient[joint],
        "birth_year": joints.birth_year[joint],
        "sex": joints.sex[joint],
        "side": joints.side[joint],
        "day": day.astype(np.int32),
        "date": day.astype(np.int32),  # as written
        "hospital": units.pair_hospital[pair],
        "surgeon": units.pair_surgeon[pair],
    }


def _revisions(register: Register, catalogue: Catalogue, revisions: Revisions) -> Records:
    """Write revisions down: the device fields say what is in the joint afterwards, and nothing where it is empty."""
    joints, joint, count = register.joints, revisions.joint, len(revisions.joint)
    rng = register.setting.stream("revision records")
    empty = (revisions.after == NONE).all(axis=1)
    operations = {
        **_who_and_where(register, joint, revisions.day, revisions.pair),
        "kind": np.full(count, REVISION, np.uint8),
        "stage": revisions.stage,
        "action": revisions.action,
        **{name: getattr(revisions, name).astype(np.uint8) for name in ("stem", "augment", "graft")},
        **{name: np.where(empty, EMPTY, values) for name, values in _device_words(register, revisions).items()},
        "approach": joints.approach[joint],
        "technology": np.full(count, words.TECHNOLOGIES.index("conventional"), np.uint8),
        "prophylaxis": joints.prophylaxis[joint],
        "diagnosis": np.full(count, EMPTY, np.uint8),
        "asa": joints.asa[joint],
        "bmi": np.clip(joints.bmi[joint] + rng.integers(-12, 16, count), 160, 690).astype(np.int16),
    }
    family, size = catalogue.implants.constructs.femoral[revisions.construct], joints.femoral_size[joint]
    extras = [
        (role, np.where(used, catalogue.small(role, family, size), NONE))
        for role, used in (("stem", revisions.stem), ("augment", revisions.augment))
    ]
    day = operations["day"]
    components, counts = _component_rows(catalogue, revisions.removed, revisions.implanted, day, extras)
    reasons, reason_counts = _reason_rows(revisions)
    return Records(operations, components, reasons, counts, reason_counts)


def _device_words(register: Register, revisions: Revisions) -> Columns:
    families, joints = register.setting.implants.families, register.joints
    family = register.setting.implants.constructs.femoral[revisions.construct]
    bearings = np.array([words.BEARINGS.index(word) for word in families.bearing], np.uint8)
    designs = np.array([words.CONSTRAINTS.index(word) for word in families.constraint], np.uint8)
    same_class = revisions.joint_class == joints.joint_class[revisions.joint]
    not_applicable = words.COMPARTMENTS.index(words.NOT_APPLICABLE)
    resurfaced = revisions.after[:, OPTIONAL] != NONE
    return {
        "joint_class": revisions.joint_class,
        "compartment": np.where(same_class, joints.compartment[revisions.joint], not_applicable).astype(np.uint8),
        "bearing": bearings[family],
        "constraint": designs[family],
        "fixation": revisions.fixation,
        "patella": np.where(resurfaced, *(words.PATELLAS.index(w) for w in ("resurfaced", "not resurfaced"))),
    }


def _component_rows(
    catalogue: Catalogue,
    removed: np.ndarray,
    implanted: np.ndarray,
    day: np.ndarray,
    extras: list[tuple[str, np.ndarray]],
) -> tuple[Columns, np.ndarray]:
    """Write the components of each operation, those removed first; the rows, and how many each operation has."""
    table = np.column_stack([removed, implanted, *(entries for _, entries in extras)])
    places, listed = place_roles(catalogue.parameters), words.ROLES[catalogue.parameters.joint]
    roles = [listed.index(role) for role in (*places, *places, *(role for role, _ in extras))]
    there = table != NONE
    operation, column = np.nonzero(there)
    entry = table[operation, column]
    put_in = column >= removed.shape[1]
    counts = there.sum(axis=1)
    line = np.arange(len(operation)) - np.repeat(np.cumsum(counts) - counts, counts) + 1
    lots = int(day.max(initial=0)) // LOT_DAYS + 1
    return {
        "line_no": line.astype(np.uint8),
        "role": np.array(roles, np.uint8)[column],
        "action": np.where(put_in, *(words.COMPONENT_ACTIONS.index(w) for w in ("implanted", "removed"))).astype(
            np.uint8
        ),
        "entry": entry.astype(np.int32),
        "lot": np.where(put_in, entry * lots + day[operation] // LOT_DAYS, NONE).astype(np.int32),
    }, counts


def _reason_rows(revisions: Revisions) -> tuple[Columns, np.ndarray]:
    """Write the reasons of each revision, the leading one first; the rows, and how many each revision has."""
    table = np.column_stack([revisions.reason, revisions.second_reason])
    operation, column = np.nonzero(table != NOT_GIVEN)
    return {
        "line_no": (column + 1).astype(np.uint8),
        "reason": table[operation, column],
        "leads": np.where(column == 0, YES, NO).astype(np.uint8),
    }, (table != NOT_GIVEN).sum(axis=1)
