"""
What is done at a revision, and which extras are used.
"""

from dataclasses import dataclass

import numpy as np

from regdash import vocabulary as words
from synthetic_registry.catalogue import NONE
from synthetic_registry.parameters import JointClass, Parameters
from synthetic_registry.parts import OPTIONAL, SECOND_DEVICE

# Positions in the vocabulary's actions and stages.
EXCHANGE_BEARING, EXCHANGE_ONE, EXCHANGE_ALL, ADD, CONVERT, SPACER, REIMPLANT, REMOVE, TO_TOTAL, TO_REVERSE = range(10)
assert words.ACTIONS[:10] == (
    "bearing exchange only",
    "one component exchanged",
    "all components exchanged",
    "component added",
    "partial to total",
    "removal with spacer",
    "reimplantation",
    "removal without replacement",
    "hemi to total",
    "anatomic to reverse",
)
SECOND_OF_TWO = words.STAGES.index("second of two")
RENEWING = (EXCHANGE_ALL, CONVERT, REIMPLANT, TO_TOTAL, TO_REVERSE)  # a new construct goes in


@dataclass(frozen=True)
class Before:
    """Joints that come to revision: one entry each."""

    joint: np.ndarray  # position among the register's joints
    day: np.ndarray
    joint_class: np.ndarray
    group: np.ndarray  # of the leading reason
    reason: np.ndarray  # in detail
    parts: np.ndarray  # (n, places) what is in the joint


@dataclass(frozen=True)
class Done:
    """One entry a revision: positions in the vocabulary's actions and stages, and the class afterwards."""

    action: np.ndarray
    stage: np.ndarray
    becomes: np.ndarray


def draw_actions(rng: np.random.Generator, parameters: Parameters, before: Before) -> Done:
    """Draw what is done by class and group of reasons; an empty joint gets the second of its two stages."""
    draw = rng.random(len(before.group))
    action = np.full(len(draw), REIMPLANT, np.uint8)
    stage = np.full(len(draw), SECOND_OF_TWO, np.uint8)
    becomes = before.joint_class.copy()
    filled = (before.parts != NONE).any(axis=1)
    for place, kind in enumerate(parameters.classes):
        for number, group in enumerate(words.REASON_GROUPS[parameters.joint]):
            ours = np.flatnonzero(filled & (before.joint_class == place) & (before.group == number))
            chosen, actions, stages, ends = _options(parameters, kind, place, group, draw[ours])
            action[ours], stage[ours], becomes[ours] = actions[chosen], stages[chosen], ends[chosen]
    return _made_possible(parameters, before, Done(action, stage, becomes))


def _options(
    parameters: Parameters, kind: JointClass, place: int, group: str, draw: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Choose among a class's actions for a group of reasons; the choice, and what each option means."""
    names = [other.name for other in parameters.classes]
    options = kind.actions.get(group, kind.actions[""])
    bounds = np.cumsum([option.share for option in options])
    return (
        np.minimum(np.searchsorted(bounds, draw * bounds[-1], side="right"), len(options) - 1),
        np.array([words.ACTIONS.index(option.name) for option in options], np.uint8),
        np.array([words.STAGES.index(option.stage) for option in options], np.uint8),
        np.array([names.index(option.becomes) if option.becomes else place for option in options], np.uint8),
    )


def _made_possible(parameters: Parameters, before: Before, done: Done) -> Done:
    """Replace what cannot be done: no bearing to exchange, or the component is there already."""
    lesser = before.joint_class > 0
    bearing = (before.parts[:, list(parameters.bearing_places)] != NONE).any(axis=1)
    no_bearing = (done.action == EXCHANGE_BEARING) & ~bearing
    added = (done.action == ADD) & np.where(
        lesser, (before.parts[:, SECOND_DEVICE] != NONE).any(axis=1), before.parts[:, OPTIONAL] != NONE
    )
    action = np.where(no_bearing & ~lesser, EXCHANGE_ALL, done.action)
    action = np.where(added & ~lesser, EXCHANGE_ONE, action)
    converts = (no_bearing | added) & lesser
    names = [words.ACTIONS.index(kind.conversion) if kind.conversion else CONVERT for kind in parameters.classes]
    return Done(
        np.where(converts, np.array(names)[before.joint_class], action).astype(np.uint8),
        done.stage,
        np.where(converts, 0, done.becomes).astype(np.uint8),
    )


def draw_extras(rng: np.random.Generator, parameters: Parameters, before: Before, done: Done) -> dict[str, np.ndarray]:
    """Draw the extras used where a new construct goes in; (n,) bool for each extra."""
    uses = np.zeros(len(done.action), bool)
    draw = rng.random(len(uses))
    for place, kind in enumerate(parameters.classes):
        ours = np.flatnonzero((before.joint_class == place) & np.isin(done.action, RENEWING))
        if len(ours):
            relative = _by_group(parameters, kind)[before.group[ours]]
            uses[ours] = draw[ours] < kind.extras_used * relative / relative.mean()
    extras = {extra: uses & (rng.random(len(uses)) < share) for extra, share in parameters.extras.items()}
    none = uses & ~np.any(list(extras.values()), axis=0)
    first = next(iter(extras))
    return {**extras, first: extras[first] | none}


def _by_group(parameters: Parameters, kind: JointClass) -> np.ndarray:
    rest = kind.extras_by_reason[""]
    return np.array([kind.extras_by_reason.get(group, rest) for group in words.REASON_GROUPS[parameters.joint]])
