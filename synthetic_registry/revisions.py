"""
Revisions of the registered joints, and of older ones: why, what was done, what came out and went in,
where, and whether another revision followed.
"""

from dataclasses import dataclass, fields, replace

import numpy as np

from regdash import vocabulary as words
from synthetic_registry.catalogue import NONE, Catalogue
from synthetic_registry.hazards import whole_days
from synthetic_registry.lives import REVISED
from synthetic_registry.parameters import DAYS_A_YEAR
from synthetic_registry.parts import primary_parts
from synthetic_registry.register import Register
from synthetic_registry.revision_actions import Before, draw_actions, draw_extras
from synthetic_registry.revision_work import work_done
from synthetic_registry.streams import drawn

NOT_GIVEN = 255
FIRST_OF_TWO = words.STAGES.index("first of two")
CEMENTED, CEMENTLESS, HYBRID, REVERSE_HYBRID = range(4)
assert words.FIXATIONS[:4] == ("cemented", "cementless", "hybrid", "reverse hybrid")


@dataclass(frozen=True)
class Revisions:
    """One entry a revision operation, by joint and day; words are positions in the vocabulary's lists."""

    joint: np.ndarray  # position among the register's joints
    day: np.ndarray  # from the register's first
    pair: np.ndarray  # surgeon at a hospital
    stage: np.ndarray
    action: np.ndarray
    reason: np.ndarray  # in detail, leading
    second_reason: np.ndarray  # NOT_GIVEN: none
    stem: np.ndarray  # bool
    augment: np.ndarray  # bool
    graft: np.ndarray  # bool
    joint_class: np.ndarray  # what the joint is afterwards
    construct: np.ndarray
    fixation: np.ndarray
    removed: np.ndarray  # (n, places) catalogue entries, -1: nothing
    implanted: np.ndarray  # (n, places)
    after: np.ndarray  # (n, places) what is in the joint afterwards
    first: np.ndarray  # bool: the joint's first revision


@dataclass(frozen=True)
class _State:
    """Joints that are to be revised now: what is in them, and until when they can be seen."""

    joint: np.ndarray
    end: np.ndarray  # last day on which a revision would be seen
    day: np.ndarray  # of the coming revision
    group: np.ndarray  # its group of reasons
    joint_class: np.ndarray
    construct: np.ndarray
    fixation: np.ndarray
    parts: np.ndarray
    pair: np.ndarray  # who operated last

    def of(self, at: np.ndarray) -> "_State":
        return _State(*(getattr(self, field.name)[at] for field in fields(self)))


def draw_revisions(register: Register, catalogue: Catalogue) -> Revisions:
    """Draw every revision that the register could see: first ones as lived, and those that follow them."""
    rng = register.setting.stream("revisions")
    state, first, rounds = _first_state(register, catalogue), True, []
    for _ in range(register.setting.parameters.re_revision.most):
        state, done = _revise(rng, register, catalogue, state, first)
        rounds.append(done)
        staged, done = _second_stages(rng, register, catalogue, state, done.stage == FIRST_OF_TWO)
        rounds.append(done)
        state, first = _next(rng, register, staged), False
    together = {
        field.name: np.concatenate([getattr(done, field.name) for done in rounds]) for field in fields(Revisions)
    }
    order = np.lexsort((together["day"], together["joint"]))
    return Revisions(**{name: values[order] for name, values in together.items()})


def _first_state(register: Register, catalogue: Catalogue) -> _State:
    joints, lives = register.joints, register.lives
    patient, day = joints.primaries.patient, joints.primaries.day
    at = np.flatnonzero((lives.ended == REVISED) & (day + lives.days >= 0))
    last = np.full(len(at), register.setting.days.last)
    exits = np.minimum(lives.exits.death_day, lives.exits.loss_day)[patient[at]]
    return _State(
        joint=at,
        end=np.minimum(exits, last),
        day=(day + lives.days)[at],
        group=lives.reason_group[at],
        joint_class=joints.joint_class[at],
        construct=joints.construct[at],
        fixation=joints.fixation[at],
        parts=primary_parts(joints, catalogue, at),
        pair=joints.pair[at],
    )


def _revise(
    rng: np.random.Generator, register: Register, catalogue: Catalogue, state: _State, first: bool
) -> tuple[_State, Revisions]:
    """Revise each joint once; returns what is in it afterwards, and the operations."""
    parameters = register.setting.parameters
    reason = _details(rng, register, catalogue, state)
    before = Before(state.joint, state.day, state.joint_class, state.group, reason, state.parts)
    done = draw_actions(rng, parameters, before)
    extras = draw_extras(rng, parameters, before, done)
    work = work_done(rng, register, catalogue, before, done)
    renewed = work.construct != NONE
    after = replace(
        state,
        joint_class=done.becomes,
        construct=np.where(renewed, work.construct, state.construct),
        fixation=np.where(renewed, _fixations(register, work.construct), state.fixation).astype(np.uint8),
        parts=work.after,
        pair=_revisers(rng, register, state),
    )
    return after, Revisions(
        joint=state.joint,
        day=state.day,
        pair=after.pair,
        stage=done.stage,
        action=done.action,
        reason=reason,
        second_reason=_second_reasons(rng, register, state),
        **extras,
        joint_class=after.joint_class,
        construct=after.construct,
        fixation=after.fixation,
        removed=work.removed,
        implanted=work.implanted,
        after=work.after,
        first=np.full(len(state.joint), first),
    )


def _fixations(register: Register, construct: np.ndarray) -> np.ndarray:
    """Find how new constructs are fixed: with cement, but for components that never have it."""
    implants = register.setting.implants
    first, other = implants.constructs.first[construct], implants.constructs.other[construct]
    loose, also = implants.loose[0][first], implants.loose[1][other]
    alone = np.array([not roles[1] for roles in implants.families.roles])[other]
    return np.select([loose & (also | alone), loose, also], [CEMENTLESS, REVERSE_HYBRID, HYBRID], CEMENTED)


def _reason_codes(register: Register) -> tuple[str, ...]:
    return tuple(reason.detail for reason in words.REASONS[register.setting.parameters.joint])


def _details(rng: np.random.Generator, register: Register, catalogue: Catalogue, state: _State) -> np.ndarray:
    """Draw the reason in detail, within its group; nothing loosens that is not there."""
    groups, details = words.REASON_GROUPS[register.setting.parameters.joint], _reason_codes(register)
    reason = np.full(len(state.joint), NOT_GIVEN, np.uint8)
    for place, kind in enumerate(register.setting.parameters.classes):
        for group, shares in kind.details.items():
            ours = (state.joint_class == place) & (state.group == groups.index(group))
            reason[ours] = drawn(rng, dict(shares), details, int(ours.sum()))
    if "loosening, patellar" not in details:
        return reason
    roles = np.append(catalogue.roles, 255)  # the last one where there is nothing
    no_patella = (roles[state.parts] != words.ROLES["knee"].index("patellar")).all(axis=1)
    patellar, tibial = details.index("loosening, patellar"), details.index("loosening, tibial")
    return np.where((reason == patellar) & no_patella, tibial, reason).astype(np.uint8)


def _second_reasons(rng: np.random.Generator, register: Register, state: _State) -> np.ndarray:
    """Draw a second reason for some, of another group than the leading one."""
    groups, details = words.REASON_GROUPS[register.setting.parameters.joint], _reason_codes(register)
    has = rng.random(len(state.joint)) < register.setting.parameters.re_revision.second_reason
    second = np.full(len(state.joint), NOT_GIVEN, np.uint8)
    for place, kind in enumerate(register.setting.parameters.classes):
        ours = state.joint_class == place
        group = drawn(rng, dict(kind.second_reasons), groups, int(ours.sum()))
        common = {name: max(shares, key=lambda detail: shares[detail]) for name, shares in kind.details.items()}
        by_group = np.array([details.index(common.get(name, "other")) for name in groups], np.uint8)
        second[ours] = np.where(group == state.group[ours], NOT_GIVEN, by_group[group])
    return np.where(has, second, NOT_GIVEN).astype(np.uint8)


def _revisers(rng: np.random.Generator, register: Register, state: _State) -> np.ndarray:
    """Draw who revises and where: some elsewhere, else at the same hospital and often by the same surgeon."""
    structure, units = register.setting.parameters.structure, register.setting.units
    draw, moves, keeps = (rng.random(len(state.joint)) for _ in range(3))
    year = register.setting.days.year_numbers(state.day)
    chosen = state.pair.copy()
    for number, weight in enumerate(units.pair_weight):
        bounds = np.cumsum(weight)
        here = np.flatnonzero(year == number)
        # A little more often elsewhere than wished: chance brings some back to where they were.
        elsewhere = moves[here] < structure.elsewhere * 1.03
        stays = ~elsewhere & (keeps[here] < structure.same_reviser) & (weight[state.pair[here]] > 0)
        anywhere = np.searchsorted(bounds, draw[here] * bounds[-1], side="right")
        same_place = _within_hospital(units.pair_hospital, weight, state.pair[here], draw[here])
        new = np.where(elsewhere | (same_place < 0), anywhere, same_place)
        chosen[here] = np.where(stays, state.pair[here], new)
    return chosen


def _within_hospital(hospital: np.ndarray, weight: np.ndarray, pair: np.ndarray, draw: np.ndarray) -> np.ndarray:
    """Draw a surgeon at the hospital of each pair, by weight; -1 where nobody works there."""
    order = np.argsort(hospital, kind="stable")
    bounds = np.append(0, np.cumsum(weight[order]))
    first = np.searchsorted(hospital[order], hospital[pair], side="left")
    last = np.searchsorted(hospital[order], hospital[pair], side="right")
    low, high = bounds[first], bounds[last]
    place = np.searchsorted(bounds, low + draw * (high - low), side="right") - 1
    return np.where(high > low, order[np.clip(place, first, last - 1)], -1)


def _second_stages(
    rng: np.random.Generator, register: Register, catalogue: Catalogue, state: _State, open_stage: np.ndarray
) -> tuple[_State, Revisions]:
    """Put a joint back where a spacer was left; some never come to it, and stay as they are."""
    re_revision = register.setting.parameters.re_revision
    happens = rng.random(len(state.joint)) < re_revision.second_stage_happens
    day = state.day + rng.integers(*re_revision.stage_gap, len(state.joint))
    ready = np.flatnonzero(open_stage & happens & (day <= state.end))
    infection = words.REASON_GROUPS[register.setting.parameters.joint].index("infection")
    waiting = replace(state.of(ready), day=day[ready], group=np.full(len(ready), infection, np.uint8))
    done, operations = _revise(rng, register, catalogue, waiting, False)
    closed = state.of(np.flatnonzero((state.parts != NONE).any(axis=1)))
    together = [np.concatenate([getattr(part, field.name) for part in (closed, done)]) for field in fields(_State)]
    return _State(*together), operations


def _next(rng: np.random.Generator, register: Register, state: _State) -> _State:
    """Find which joints are revised again, when and why."""
    parameters = register.setting.parameters
    starts = whole_days(parameters.intervals)
    rate = np.array(parameters.re_revision.hazards) / 1000 / DAYS_A_YEAR
    before = np.append(0, np.cumsum(rate[:-1] * np.diff(starts)))
    waiting = rng.standard_exponential(len(state.joint))
    k = np.searchsorted(before, waiting, side="right") - 1
    after = np.maximum(np.floor(starts[k] + (waiting - before[k]) / rate[k]), 1)
    day = state.day + np.minimum(after, 10**6).astype(np.int64)
    again = np.flatnonzero(day <= state.end)
    following = state.of(again)
    group = following.group.copy()
    groups = words.REASON_GROUPS[parameters.joint]
    for place, kind in enumerate(parameters.classes):
        ours = following.joint_class == place
        group[ours] = drawn(rng, dict(parameters.re_revision.reasons[kind.name]), groups, int(ours.sum()))
    return replace(following, day=day[again], group=group)
