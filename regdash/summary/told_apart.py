"""
Which implants of a maker are told side by side: of joints that hold one of them and not the other, no small count may
follow from their figures, nor the figures of a hospital or surgeon.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from regdash.reports.own_joints import Own, OwnJoints
from regdash.summary.told_times import told_times
from regdash.vocabulary import NOT_RECORDED


@dataclass(frozen=True)
class Limits:
    """What is small."""

    under: int  # counts from 1 up below this
    width: int  # of the interval of numbers that a small count can be, at the least
    units: int  # hospitals, and surgeons, that use what is told, at the least
    times: tuple[float, ...] = ()  # years by which revisions of a class are told anywhere


@dataclass
class Chosen:
    """The implants of one class that are told: their counts, and those that have a page too."""

    told: list[Own] = field(default_factory=list)
    paged: list[Own] = field(default_factory=list)


@dataclass(frozen=True)
class _Together:
    """The joints of a class by which implants they hold together: sets of joints are sets of these."""

    used: tuple[frozenset[Own], ...]
    joints: np.ndarray  # (sets,)
    revised_joints: np.ndarray  # (sets,)
    users: tuple[np.ndarray, ...]  # (sets, units) joints of each hospital, and of each surgeon, that is recorded

    def number(self, chosen: np.ndarray) -> int:
        return int(self.joints[chosen].sum())

    def revised(self, chosen: np.ndarray) -> int:
        return int(self.revised_joints[chosen].sum())

    def is_few(self, chosen: np.ndarray, limits: Limits) -> bool:
        each = (table[chosen].sum(axis=0) for table in self.users)
        return any(few_users(sorted(of[of > 0].tolist(), reverse=True), limits) for of in each)


def _together(joints: OwnJoints, joint_class: str) -> _Together:
    lines = np.flatnonzero(joints.classes == joint_class)
    used = list(dict.fromkeys(joints.implants[line] for line in lines))
    places = {one: n for n, one in enumerate(used)}
    line_places = np.array([places[joints.implants[line]] for line in lines], dtype=np.int64)
    number, revised = np.zeros((2, len(used)), dtype=np.int64)
    np.add.at(number, line_places, joints.joints[lines])
    np.add.at(revised, line_places, np.where(joints.days[lines] >= 0, joints.joints[lines], 0))
    users = (
        _by_unit(line_places, len(used), codes[lines], joints.joints[lines])
        for codes in (joints.hospitals, joints.surgeons)
    )
    return _Together(tuple(used), number, revised, tuple(users))


def _by_unit(places: np.ndarray, sets: int, codes: np.ndarray, joints: np.ndarray) -> np.ndarray:
    recorded = {one: n for n, one in enumerate(one for one in dict.fromkeys(codes.tolist()) if one != NOT_RECORDED)}
    found = np.zeros((sets, len(recorded)), dtype=np.int64)
    for place, code, number in zip(places.tolist(), codes.tolist(), joints.tolist()):
        if code in recorded:
            found[place, recorded[code]] += number
    return found


def few_users(by_unit: Sequence[int], limits: Limits) -> bool:
    """
    Whether one hospital, or surgeon, would know nearly all other joints by taking its own away, or could be told apart.

    Args:
        by_unit: joints of each, the most first.
    """
    return len(by_unit) < limits.units or sum(by_unit[1:]) < limits.under


def choose(joints: OwnJoints, joint_class: str, limits: Limits) -> Chosen:
    """
    Choose implants of a class, those in most joints first: each beside all that are chosen, and beside those of a role
    taken together, since their counts can be added up.
    """
    whole = _together(joints, joint_class)
    holds = {one: np.array([one in used for used in whole.used]) for one in sorted(frozenset().union(*whole.used))}
    found = Chosen()
    for one in sorted(holds, key=lambda one: (-whole.number(holds[one]), one)):
        if not _is_large(whole, holds[one], limits) or not _all_apart(whole, holds, [*found.told, one], limits):
            continue
        if not _hides_times(joints, joint_class, one, limits):
            continue
        found.told.append(one)
        if _all_apart(whole, holds, [*found.paged, one], limits, is_page=True):
            found.paged.append(one)
    return found


def _is_large(whole: _Together, one: np.ndarray, limits: Limits) -> bool:
    """Whether an implant is told for itself: it, its revisions and those of all others of the class."""
    counts = whole.number(one), whole.revised(one), whole.revised(~one)
    return not any(0 < number < limits.under for number in counts) and not whole.is_few(one, limits)


def _hides_times(joints: OwnJoints, joint_class: str, one: Own, limits: Limits) -> bool:
    """Whether revisions of all follow-up, less those of its class since a time, do not tell those up to that time."""
    within = joints.classes == joint_class
    groups = joints.of(one) & within, within & ~joints.of(one)
    own, others = ([joints.revised(of, time) for time in (*limits.times, None)] for of in groups)
    return told_times(own, others, [False] * len(limits.times), limits.under, limits.width) is not None


def _all_apart(
    whole: _Together, holds: dict[Own, np.ndarray], told: list[Own], limits: Limits, is_page: bool = False
) -> bool:
    """Whether the last of the implants can be told beside the others."""
    *others, last = told
    roles = {role: [one for one in told if one[0] == role] for role, _ in told}
    everything = [np.any([holds[one] for one in of], axis=0) for of in roles.values()]
    if any(0 < whole.revised(~together) < limits.under for together in everything):
        return False
    pairs = [(holds[last], holds[one]) for one in others]
    for one in told:
        for role, of in roles.items():
            if role != one[0]:
                pairs += [(holds[one], added) for added in _added(holds, of, holds[one])]
    return all(_is_apart(whole, one, other, limits, is_page) for one, other in pairs)


def _added(holds: dict[Own, np.ndarray], of: list[Own], one: np.ndarray) -> list[np.ndarray]:
    """Give the implants of a role added up, as far as they share joints with another: all, and those within it."""
    beside = [holds[each] for each in of if np.any(holds[each] & one)]
    inside = [each for each in beside if not np.any(each & ~one)]
    return [np.any(parts, axis=0) for parts in (beside, inside) if len(parts) > 1]


def _is_apart(whole: _Together, one: np.ndarray, other: np.ndarray, limits: Limits, is_page: bool) -> bool:
    """
    Whether figures of two sets of joints tell nothing small of those that are in one of them alone.

    The difference of two counts is what the one has alone less what the other has. Where either has none alone it is
    told, so that it must be large, and be of several hospitals and surgeons; a page, whose counts are by reason and
    time, is then left out. Where both have some, each may be anything up to the number of its joints: so far as enough
    of them are not revised, neither is told.
    """
    alone, beside = one & ~other, other & ~one
    if not np.any(one & other) or not (np.any(alone) or np.any(beside)):
        return True
    if any(0 < whole.number(part) < limits.under for part in (alone, beside)):
        return False
    if np.any(alone) and np.any(beside):
        return all(whole.number(part) - whole.revised(part) >= limits.width for part in (alone, beside))
    rest = alone if np.any(alone) else beside
    is_small = 0 < whole.revised(rest) < limits.under
    return not (is_page or is_small or whole.is_few(rest, limits))
