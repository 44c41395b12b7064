"""
What happens to each joint: when its first revision would come and for which group of reasons,
and how its follow-up ends.
"""

from dataclasses import dataclass

import numpy as np

from regdash import vocabulary as words
from synthetic_registry.hazards import ClassHazards
from synthetic_registry.joints import Joints
from synthetic_registry.leaving import NEVER, Exits, Leaving

REVISED, DIED, LOST, IN_PLACE = range(4)  # positions in the vocabulary's endings
assert words.ENDINGS == ("revised", "died", "lost", "in place")


@dataclass(frozen=True)
class Lives:
    """
    One entry a joint, days from its own implantation.

    On one day a revision comes before a death, a death before a loss, and both before the register's end.
    """

    days: np.ndarray  # followed
    ended: np.ndarray  # position in the vocabulary's endings
    reason_group: np.ndarray  # position in the vocabulary's groups where revised, else 255
    exits: Exits


def draw_lives(
    rng: np.random.Generator, joint: str, joints: Joints, classes: list[ClassHazards], leave: Leaving, exits: Exits
) -> Lives:
    """Draw the first revision of every joint, and end its follow-up at whatever comes first."""
    patient, day = joints.primaries.patient, joints.primaries.day
    revision = np.full(len(day), NEVER, np.int64)
    interval = np.zeros(len(day), np.uint8)
    for hazard in classes:
        revision[hazard.at], interval[hazard.at] = _first_revisions(rng, hazard)
    ways = np.stack([revision, exits.death_day[patient] - day, exits.loss_day[patient] - day, leave.admin_day])
    ended = np.argmin(ways, axis=0).astype(np.uint8)  # the first of equal ones
    days = ways[ended, np.arange(len(day))].astype(np.int32)
    group = np.full(len(day), 255, np.uint8)
    for hazard in classes:
        revised = ended[hazard.at] == REVISED
        group[hazard.at[revised]] = _reason_groups(rng, joint, hazard, revised, interval[hazard.at[revised]])
    return Lives(days, ended, group, exits)


def _first_revisions(rng: np.random.Generator, hazard: ClassHazards) -> tuple[np.ndarray, np.ndarray]:
    """Draw the day of each joint's first revision and the interval it falls in."""
    waiting = rng.standard_exponential(len(hazard.at))
    day = np.zeros(len(waiting))
    interval = np.zeros(len(waiting), np.uint8)
    for k, (before, rate) in enumerate(zip(hazard.before(), hazard.rate)):
        reached = waiting >= before
        day = np.where(reached, hazard.starts[k] + (waiting - before) / np.maximum(rate, 1e-15), day)
        interval[reached] = k
    # A day at an interval's end must not round into the next one.
    ends = np.append(hazard.starts[1:] - 1, NEVER)
    return np.minimum(np.floor(np.minimum(day, NEVER)), ends[interval]).astype(np.int64), interval


def _reason_groups(
    rng: np.random.Generator, joint: str, hazard: ClassHazards, revised: np.ndarray, interval: np.ndarray
) -> np.ndarray:
    """Draw the group of reasons of each revised joint, by its hazards at that time."""
    chance = np.cumsum(hazard.by_reason[:, interval] * hazard.factor[:, revised], axis=0)
    place = (rng.random(chance.shape[1]) * chance[-1] >= chance[:-1]).sum(axis=0)
    groups = words.REASON_GROUPS[joint]
    return np.array([groups.index(group) for group in hazard.kind.hazards], np.uint8)[place]
