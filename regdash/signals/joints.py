"""The joints of a cohort as a screen counts them, and the pools that they make."""

from collections.abc import Collection, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from regdash.cohort import Cohort
from regdash.grouping import Grouping
from regdash.reports.counted import refuse_outcomes
from regdash.reports.model import LeftOut
from regdash.signals.pool import Pool
from regdash.signals.units import Units
from regdash.stats.design import distinct_patterns
from regdash.stats.events import FIRST_REASON
from regdash.store.cuts import Cut, threads
from regdash.store.event_counts import REASON_GROUP
from regdash.store.sqlfiles import statement
from regdash.vocabulary import NOT_RECORDED

_OWN = ("joint_no", "enum_code(joint)::integer", "enum_code(class)::integer", "enum_code(construct)::integer")
_NARROW = 2**16  # numbers below it are sorted digit by digit


@dataclass(frozen=True, eq=False)
class ScreenedJoints:
    """A cohort's joints, one entry each."""

    joint_no: np.ndarray  # (n,) int
    kind: np.ndarray  # (n,) uint8, joint and class together: place in `classes`
    classes: tuple[str, ...]
    construct: np.ndarray  # (n,) int, place in the cut's list
    day: np.ndarray  # (n,) int
    revised: np.ndarray  # (n,) bool
    stratum: np.ndarray  # (n,) int; -1 where a field is not recorded
    left_out: tuple[LeftOut, ...]

    @cached_property
    def place(self) -> np.ndarray:
        """(joint numbers,) int, place of each joint among these; -1 where it is none of them."""
        places = np.full(int(self.joint_no.max(initial=-1)) + 1, -1, dtype=np.int32)
        places[self.joint_no] = np.arange(len(self.joint_no), dtype=np.int32)
        return places


def joints_of(cut: Cut, cohort: Cohort, adjust: Sequence[Grouping]) -> ScreenedJoints:
    """
    Fetch a cohort's joints.

    Args:
        adjust: fields that make the strata. A joint that lacks one has no stratum: it has a rate, and no hazard ratio.

    Raises:
        FilterError: an outcome word in the cohort.
    """
    refuse_outcomes(cohort)
    fields = (*_OWN, *(grouping.sql() for grouping in adjust))
    predicate = cohort.predicate()
    query = statement(
        "queries/event_rows",
        grouping="".join(f"{field} as g{number}, " for number, field in enumerate(fields)),
        reason=REASON_GROUP,
        no_reason=str(len(cut.words[f"{REASON_GROUP}_words"])),
        predicate=predicate.sql,
    )
    parts = cut.columns_in_parts(query, **predicate.parameters)
    names = (*(f"g{number}" for number in range(len(fields))), "day", "outcome")
    columns = {name: np.concatenate([part[name] for part in parts]).astype(np.int32, copy=False) for name in names}
    kind, classes = _kinds(cut, columns["g1"], columns["g2"])
    levels = [columns[f"g{number}"] for number in range(len(_OWN), len(fields))]
    stratum, left_out = _strata(cut, adjust, levels, len(kind))
    revised = columns["outcome"] >= FIRST_REASON
    return ScreenedJoints(columns["g0"], kind, classes, columns["g3"], columns["day"], revised, stratum, left_out)


def pools_of(joints: ScreenedJoints, units: Units, apart: Collection[str]) -> list[Pool]:
    """
    Put together what is compared: joints of one kind, class and role.

    Args:
        apart: implants whose joints are in nobody's comparison group.
    """
    out = np.array([not set(apart).isdisjoint(names) for names in units.implants], dtype=bool)
    with ThreadPoolExecutor(threads()) as workers:  # sorting leaves the interpreter's lock
        found = workers.map(lambda role: _pools_of_role(joints, units, role, out), units.roles_there)
        return [pool for pools in found for pool in pools]


def _pools_of_role(joints: ScreenedJoints, units: Units, role: int, out: np.ndarray) -> list[Pool]:
    joint_no, unit = units.of_role(role)
    if len(joint_no) and int(joint_no.max()) >= len(joints.place):
        there = joint_no < len(joints.place)
        joint_no, unit = joint_no[there], unit[there]
    place = joints.place[joint_no]
    if place.min(initial=0) < 0:
        place, unit = place[place >= 0], unit[place >= 0]
    kind = joints.kind[place]
    order = _order(kind, unit)
    place, unit, kind = place[order], unit[order], kind[order]
    ends = np.cumsum(np.bincount(kind, minlength=len(joints.classes))).tolist()
    return [
        _pool(joints, units, (number, role), place[first:end], unit[first:end], out)
        for number, (first, end) in enumerate(zip([0, *ends], ends, strict=False))
        if end > first
    ]


def _order(kind: np.ndarray, unit: np.ndarray) -> np.ndarray:
    """Sort by kind and then by unit."""
    most = int(unit.max(initial=0)) + 1
    if most * (int(kind.max(initial=0)) + 1) <= _NARROW:
        return np.argsort(kind.astype(np.uint16) * np.uint16(most) + unit.astype(np.uint16), kind="stable")
    by_unit = np.argsort(unit.astype(np.uint16) if most <= _NARROW else unit, kind="stable")
    return by_unit[np.argsort(kind[by_unit], kind="stable")]


def _pool(
    joints: ScreenedJoints, units: Units, of: tuple[int, int], place: np.ndarray, unit: np.ndarray, out: np.ndarray
) -> Pool:
    first = np.insert(unit[1:] != unit[:-1], 0, True)
    own = unit[first]
    return Pool(
        joint_class=joints.classes[of[0]],
        role=units.roles[of[1]],
        codes=tuple(units.codes[number] for number in own.tolist()),
        apart=out[own],
        joint_no=joints.joint_no[place],
        unit=np.cumsum(first, dtype=np.int32) - np.int32(1),
        day=joints.day[place],
        revised=joints.revised[place],
        stratum=joints.stratum[place],
    )


def _kinds(cut: Cut, joint: np.ndarray, joint_class: np.ndarray) -> tuple[np.ndarray, tuple[str, ...]]:
    """Number joint and class together; the joint is named where there are several."""
    names, classes = cut.words["joint_words"], cut.words["class_words"]
    kind = joint * len(classes) + joint_class
    seen = np.flatnonzero(np.bincount(kind, minlength=1) > 0).tolist()
    several = len({number // len(classes) for number in seen}) > 1
    labels = {n: classes[n % len(classes)] + (f" {names[n // len(classes)]}" if several else "") for n in seen}
    place = np.zeros(max(seen, default=0) + 1, dtype=np.uint8)
    place[seen] = np.arange(len(seen))
    return place[kind], tuple(labels.values())


def _strata(
    cut: Cut, adjust: Sequence[Grouping], levels: list[np.ndarray], size: int
) -> tuple[np.ndarray, tuple[LeftOut, ...]]:
    known, left_out, codes, sizes = np.ones(size, dtype=bool), [], [], []
    for grouping, level in zip(adjust, levels, strict=True):
        least = int(level.min(initial=0))
        own = np.flatnonzero(np.bincount(level - least, minlength=1)) + least
        lacking = [number for number in own.tolist() if grouping.label(number, cut.known) == NOT_RECORDED]
        lacks = np.isin(level, lacking) if lacking else np.zeros(size, dtype=bool)
        left_out += [LeftOut(grouping.field.key, int(lacks.sum()))] if lacks.any() else []
        known &= np.logical_not(lacks)
        codes.append(level - least)
        sizes.append(int(level.max(initial=0)) - least + 1)
    if not codes:
        return np.zeros(size, dtype=np.int32), ()
    stratum = distinct_patterns(codes, sizes)[0].astype(np.int32)
    return np.where(known, stratum, np.int32(-1)), tuple(left_out)
