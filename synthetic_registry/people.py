"""
Patients across kinds of joints: who has both a knee and a hip, and when patients die or are lost.
Death and loss start with the patient's last primary, since whoever has a primary is alive and present.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from regdash import vocabulary as words
from synthetic_registry.joints import Joints
from synthetic_registry.leaving import NEVER, Exits, Leaving, inverse
from synthetic_registry.parameters import DAYS_A_YEAR
from synthetic_registry.setting import Setting

BAND = 1000  # people of one sex and year of birth, by tenths of body mass index


@dataclass(frozen=True)
class _Last:
    """Each patient's last primary: one entry a patient."""

    day: np.ndarray
    coefficient: np.ndarray  # deaths a year at that primary
    first_year: np.ndarray  # factor in the year after it


def count_patients(joints: Sequence[Joints]) -> int:
    """Count the patients of all kinds of joints; their numbers run from 0."""
    return 1 + max(int(own.primaries.patient.max()) for own in joints)


def share_patients(settings: Sequence[Setting], joints: Sequence[Joints]) -> list[Joints]:
    """
    Number patients across kinds of joints, and make some patients of a later kind patients of an earlier one.

    The two that become one are of the same sex and year of birth and about the same body mass index, so that
    nothing which was drawn for either has to change. Only patients with a registered joint are chosen.
    """
    shared, before = [joints[0]], count_patients(joints[:1])
    for setting, own in zip(settings[1:], joints[1:], strict=True):
        patient = own.primaries.patient + before
        ours, theirs = _alike(setting, own, shared)
        number = np.arange(before, before + own.primaries.patients)
        number[ours] = theirs
        patient = number[own.primaries.patient].astype(np.int32)
        shared.append(replace(own, primaries=replace(own.primaries, patient=patient)))
        before += own.primaries.patients
    return _renumbered(shared)


def _alike(setting: Setting, own: Joints, earlier: Sequence[Joints]) -> tuple[np.ndarray, np.ndarray]:
    """Choose patients of one kind, and for each a patient of an earlier kind who is like them."""
    rng = setting.stream("shared patients")
    ours = _firsts(own)
    ours = ours[rng.random(len(ours)) < setting.parameters.shared_patients]
    pool = [(_firsts(other), other) for other in earlier]
    theirs = np.concatenate([other.primaries.patient[at] for at, other in pool])
    theirs, kept = np.unique(theirs, return_index=True)
    key_ours = _person(own, ours)
    key_theirs = np.concatenate([_person(other, at) for at, other in pool])[kept]
    order = np.argsort(key_theirs, kind="stable")
    # In order of the index, each of ours takes the first of theirs that is not below and that nobody has taken.
    found = np.full(len(ours), -1)
    band_ours, band_theirs = key_ours // BAND, key_theirs[order] // BAND
    for band in np.unique(band_ours):
        mine = np.flatnonzero(band_ours == band)
        low, high = np.searchsorted(band_theirs, [band, band + 1])
        chosen = mine[np.argsort(key_ours[mine], kind="stable")][: high - low]
        place, steps = np.searchsorted(key_theirs[order], key_ours[chosen]), np.arange(len(chosen))
        place = np.maximum.accumulate(place - steps) + steps
        found[chosen] = order[np.minimum(place, high - len(chosen) + steps)]
    taken = found >= 0
    return own.primaries.patient[ours[taken]], theirs[found[taken]]


def _firsts(joints: Joints) -> np.ndarray:
    """Find each patient's first joint among the registered ones."""
    first = joints.primaries.first_of_patient[: joints.primaries.registered]
    return np.unique(first)


def _person(joints: Joints, at: np.ndarray) -> np.ndarray:
    """Number people by sex, year of birth and body mass index (tenths)."""
    return (joints.birth_year[at].astype(np.int64) * 4 + joints.sex[at]) * BAND + joints.bmi[at]


def _renumbered(joints: Sequence[Joints]) -> list[Joints]:
    """Leave no number of a patient unused, and count the days to the patient's last primary of any kind."""
    numbers, _ = np.unique(np.concatenate([own.primaries.patient for own in joints]), return_inverse=True)
    patients = [np.searchsorted(numbers, own.primaries.patient).astype(np.int32) for own in joints]
    last = np.full(len(numbers), np.iinfo(np.int32).min, np.int32)
    for own, patient in zip(joints, patients):
        np.maximum.at(last, patient, own.primaries.day)
    return [
        replace(own, primaries=replace(own.primaries, patient=patient, gap=last[patient] - own.primaries.day))
        for own, patient in zip(joints, patients)
    ]


def _last_primaries(settings: Sequence[Setting], joints: Sequence[Joints]) -> _Last:
    """Find each patient's last primary of any kind; of those on one day the one that comes later in the lists."""
    count = count_patients(joints)
    latest = np.full(count, -1, np.int64)
    day = np.concatenate([own.primaries.day for own in joints]).astype(np.int64)
    patient = np.concatenate([own.primaries.patient for own in joints])
    np.maximum.at(latest, patient, ((day + NEVER) << 24) + np.arange(len(day)))
    at = latest & ((1 << 24) - 1)
    coefficient = np.concatenate([_coefficient(setting, own) for setting, own in zip(settings, joints)])
    first_year = np.concatenate([_first_year(setting, own) for setting, own in zip(settings, joints)])
    return _Last(day[at], coefficient[at], first_year[at])


def _coefficient(setting: Setting, joints: Joints) -> np.ndarray:
    death = setting.parameters.death
    at_65 = np.array([death.hazard_at_65.get(word, 0.0) for word in words.SEXES])
    by_asa = np.array([death.asa.get(word, 1.0) for word in words.ASA_CLASSES])
    age = joints.age.astype(float)
    return at_65[joints.sex] * np.exp(death.growth * (age - 65)) * by_asa[joints.asa]


def _first_year(setting: Setting, joints: Joints) -> np.ndarray:
    death = setting.parameters.death
    listed = [death.first_year_by_diagnosis.get(word, death.first_year) for word in words.DIAGNOSES]
    return np.array(listed)[joints.diagnosis]


def leaving(settings: Sequence[Setting], joints: Sequence[Joints]) -> list[Leaving]:
    """Find how likely each joint's patient is to leave; one for each kind of joint."""
    last = _last_primaries(settings, joints)
    return [
        Leaving(
            death=setting.parameters.death,
            loss_rate=sum(setting.parameters.loss.values()) / DAYS_A_YEAR,
            coefficient=last.coefficient[own.primaries.patient],
            first_year=last.first_year[own.primaries.patient],
            gap=own.primaries.gap,
            admin_day=(setting.days.last - own.primaries.day).astype(np.int32),
        )
        for setting, own in zip(settings, joints)
    ]


def draw_exits(rng: np.random.Generator, settings: Sequence[Setting], joints: Sequence[Joints]) -> Exits:
    """Draw each patient's death and loss."""
    last, parameters = _last_primaries(settings, joints), settings[0].parameters
    waiting = rng.standard_exponential(len(last.day)) / last.coefficient
    years = inverse(parameters.death, waiting, last.first_year)
    rates = np.array([parameters.loss[word] for word in words.LOSSES])
    loss = rng.standard_exponential(len(last.day)) / (rates.sum() / DAYS_A_YEAR)
    return Exits(
        death_day=_day(last.day, years * DAYS_A_YEAR),
        loss_day=_day(last.day, loss),
        loss=(rng.random(len(last.day)) * rates.sum() >= rates[0]).astype(np.uint8),
    )


def _day(since: np.ndarray, days: np.ndarray) -> np.ndarray:
    """Add days to a day, whole ones."""
    return (since + np.minimum(np.floor(days), NEVER // 2)).astype(np.int32)
