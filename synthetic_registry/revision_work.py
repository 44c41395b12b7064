"""
Which components a revision takes out and puts in.
"""

from dataclasses import dataclass, replace

import numpy as np

from regdash import vocabulary as words
from synthetic_registry.catalogue import NONE, Catalogue
from synthetic_registry.parts import BEARING, FIRST, OPTIONAL, OTHER, SECOND_DEVICE, construct_parts, fit
from synthetic_registry.register import Register
from synthetic_registry.revision_actions import (
    ADD,
    CONVERT,
    EXCHANGE_ALL,
    EXCHANGE_BEARING,
    EXCHANGE_ONE,
    REMOVE,
    RENEWING,
    SPACER,
    TO_REVERSE,
    TO_TOTAL,
    Before,
    Done,
)

CONSTRAINED = ("condylar-constrained", "hinged")
PATELLA_AT_RENEWAL = 0.4  # share of new constructs that come with a patellar component where there is none


@dataclass(frozen=True)
class Work:
    """One entry a revision; (n, places) catalogue entries, -1: nothing."""

    construct: np.ndarray  # (n,) the new one, or -1
    removed: np.ndarray
    implanted: np.ndarray
    after: np.ndarray


def work_done(rng: np.random.Generator, register: Register, catalogue: Catalogue, before: Before, done: Done) -> Work:
    """Take components out and put others in."""
    renewed = np.isin(done.action, RENEWING)
    construct = np.where(renewed, _new_constructs(rng, register, before.day, done.becomes), NONE)
    out = _places_out(rng, register, before, done) & (before.parts != NONE)
    into = np.where(out, before.parts, NONE)  # what comes out goes in again, new, unless said otherwise
    into[np.isin(done.action, (SPACER, REMOVE))] = NONE
    into[renewed] = _fresh(rng, register, catalogue, before, construct, renewed)
    _put_additions(catalogue, before, done, into)
    return Work(
        construct=construct,
        removed=np.where(out, before.parts, NONE),
        implanted=into,
        after=np.where(into != NONE, into, np.where(out, NONE, before.parts)),
    )


def _places_out(rng: np.random.Generator, register: Register, before: Before, done: Done) -> np.ndarray:
    """Say which places of each joint are emptied; (n, places) bool."""
    out = np.zeros(before.parts.shape, bool)
    bearing = np.array(register.setting.parameters.bearing_places)
    out[np.ix_(done.action == EXCHANGE_BEARING, bearing)] = True
    out[np.isin(done.action, (SPACER, REMOVE))] = True
    whole = np.isin(done.action, (EXCHANGE_ALL, CONVERT, TO_TOTAL, TO_REVERSE))
    out[whole, FIRST : BEARING + 1] = True
    out[np.ix_(whole, bearing)] = True
    out[whole, SECOND_DEVICE] = True
    one = done.action == EXCHANGE_ONE
    place = _blamed(rng, register, before)
    out[one, place[one]] = True
    out[np.ix_(one & (place != OPTIONAL), bearing)] = True
    return out


def _blamed(rng: np.random.Generator, register: Register, before: Before) -> np.ndarray:
    """Find the place that a reason blames, if it names one that holds something; else one of the naming two."""
    parameters = register.setting.parameters
    details = [reason.detail for reason in words.REASONS[parameters.joint]]
    blamed = np.array(
        [next((p for word, p in parameters.blamed.items() if word in detail), NONE) for detail in details]
    )
    either = np.where(rng.random(len(before.reason)) < 0.65, OTHER, FIRST)
    place = blamed[before.reason]
    unclear = (place == NONE) | ((place == OPTIONAL) & (before.parts[:, OPTIONAL] == NONE))
    return np.where(unclear, either, place)


def _fresh(
    rng: np.random.Generator,
    register: Register,
    catalogue: Catalogue,
    before: Before,
    construct: np.ndarray,
    renewed: np.ndarray,
) -> np.ndarray:
    """Find the components of the new constructs, cemented where they can be, in the joints' sizes."""
    joint, count = before.joint[renewed], int(renewed.sum())
    patella = (before.parts[renewed, OPTIONAL] == NONE) & (rng.random(count) < PATELLA_AT_RENEWAL)
    cement = np.zeros(count, bool)
    fits = replace(fit(register.joints, catalogue, joint), first_free=cement, other_free=cement, with_optional=patella)
    return construct_parts(catalogue, construct[renewed], fits)


def _put_additions(catalogue: Catalogue, before: Before, done: Done, into: np.ndarray) -> None:
    """Put in what is added: a patellar component, or in a lesser class the same device once more beside the first."""
    again = (done.action == ADD) & (before.joint_class > 0)
    into[again, SECOND_DEVICE] = before.parts[again, FIRST : BEARING + 1]
    optional = catalogue.parameters.small[0]
    patella = np.flatnonzero((done.action == ADD) & (before.joint_class == 0))
    family = catalogue.family(before.parts[patella, FIRST])
    into[patella, OPTIONAL] = catalogue.small(optional, family, np.full(len(patella), 4))


def _new_constructs(
    rng: np.random.Generator, register: Register, day: np.ndarray, joint_class: np.ndarray
) -> np.ndarray:
    """Draw new constructs: what primaries of that class get in the same year, or a more constrained design."""
    draw, picks = rng.random(len(day)), rng.random(len(day)) < register.setting.parameters.re_revision.constrained
    year = register.setting.days.year_numbers(day)
    chosen = np.empty(len(day), np.int64)
    for place in np.unique(joint_class):
        ours = joint_class == place
        chosen[ours] = _as_primaries(register, int(place), year[ours], draw[ours])
        picked = ours & picks
        chosen[picked] = _constrained(register, int(place), year[picked], draw[picked], chosen[picked])
    return chosen


def _as_primaries(register: Register, place: int, year: np.ndarray, draw: np.ndarray) -> np.ndarray:
    """Copy the construct of a random primary of the class in the same year."""
    joints = register.joints
    at = np.flatnonzero(joints.joint_class[: joints.primaries.registered] == place)
    if not len(at):  # a rare class of which only older joints are known
        at = np.flatnonzero(joints.joint_class == place)
    at = at[np.argsort(joints.year[at], kind="stable")]
    first = np.searchsorted(joints.year[at], year, side="left")
    last = np.searchsorted(joints.year[at], year, side="right")
    first, last = np.where(last > first, first, 0), np.where(last > first, last, len(at))
    return joints.construct[at[first + np.floor(draw * (last - first)).astype(np.int64)]]


def _constrained(
    register: Register, place: int, year: np.ndarray, draw: np.ndarray, otherwise: np.ndarray
) -> np.ndarray:
    """Draw among the more constrained constructs of the class, if it has any."""
    implants = register.setting.implants
    design = np.isin(implants.families.constraint, CONSTRAINED)[implants.constructs.first]
    offered = np.flatnonzero(design & (implants.constructs.joint_class == place))
    if not len(offered):
        return otherwise
    wanted = implants.constructs.weight[offered] * implants.popularity(offered, register.setting.days.years)
    bounds = np.cumsum(wanted, axis=1)[year]
    return offered[(draw[:, None] * bounds[:, -1:] >= bounds[:, :-1]).sum(axis=1)]
