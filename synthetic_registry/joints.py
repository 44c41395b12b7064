"""
What is true of each joint at implantation: who the patient is, where and by whom it was done, and what
was put in. Everything known at implantation is here, and nothing that happened later.
"""

from dataclasses import dataclass
from statistics import NormalDist

import numpy as np

from regdash import vocabulary as words
from synthetic_registry.devices import draw_devices
from synthetic_registry.habits import habit_shares
from synthetic_registry.implants import MIDDLE_SIZE, SIZE_STEPS, SIZES
from synthetic_registry.parameters import Shares
from synthetic_registry.patients import Primaries
from synthetic_registry.setting import Setting
from synthetic_registry.streams import drawn

AGE_BANDS = ("under 50", "50-59", "60-69", "70-79", "80 and over")
BMI_BANDS = ("under 40", "40 and over")
VOLUME_BANDS = ("under 10", "10-29", "30 and over")
ERAS = ("years 1-6", "years 7-12", "years 13-18", "years 19 and on")  # of the register


@dataclass(frozen=True)
class Joints:
    """One entry a primary joint, as in `Primaries`; words are positions in the vocabulary's lists."""

    primaries: Primaries
    calendar_year: np.ndarray
    year: np.ndarray  # numbered from the register's first
    pair: np.ndarray  # surgeon at a hospital
    hospital: np.ndarray
    surgeon: np.ndarray
    joint_class: np.ndarray  # position in the parameters' classes
    birth_year: np.ndarray
    age: np.ndarray  # calendar year of the operation less year of birth
    sex: np.ndarray
    asa: np.ndarray
    diagnosis: np.ndarray
    bmi: np.ndarray  # tenths of kg per square metre
    side: np.ndarray
    construct: np.ndarray
    bearing: np.ndarray
    constraint: np.ndarray
    compartment: np.ndarray
    fixation: np.ndarray
    technology: np.ndarray
    patella: np.ndarray
    approach: np.ndarray
    prophylaxis: np.ndarray
    first_size: np.ndarray
    other_size: np.ndarray
    head: np.ndarray  # position in the head sizes of the class
    head_material: np.ndarray
    liner_material: np.ndarray
    couple: np.ndarray
    surgeon_volume: np.ndarray  # primaries of the same class that the surgeon does in such a year
    classes: tuple[str, ...]
    heads: tuple[str, ...]  # head sizes of the classes that have them, where they are the same

    def covariate(self, name: str) -> tuple[np.ndarray, tuple[str, ...]]:
        """Find a covariate as positions and the words they stand for."""
        lists = {
            "class": (self.joint_class, self.classes),
            "sex": (self.sex, words.SEXES),
            "asa": (self.asa, words.ASA_CLASSES),
            "diagnosis": (self.diagnosis, words.DIAGNOSES),
            "bearing": (self.bearing, words.BEARINGS),
            "fixation": (self.fixation, words.FIXATIONS),
            "technology": (self.technology, words.TECHNOLOGIES),
            "approach": (self.approach, words.APPROACHES),
            "couple": (self.couple, words.BEARING_COUPLES),
            "head": (self.head, (*self.heads, "")),
        }
        if name in lists:
            return lists[name]
        values, bounds, bands = {
            "age_band": (self.age, (50, 60, 70, 80), AGE_BANDS),
            "bmi_band": (self.bmi, (400,), BMI_BANDS),
            "volume_band": (self.surgeon_volume, (10, 30), VOLUME_BANDS),
            "era": (self.year, (6, 12, 18), ERAS),
        }[name]
        return np.digitize(values, bounds).astype(np.uint8), bands


def free(fixation: np.ndarray, free_words: tuple[str, ...]) -> np.ndarray:
    """Say which joints have a component without cement, by the fixations that say so."""
    return np.isin(fixation, [words.FIXATIONS.index(word) for word in free_words])


def draw_joints(setting: Setting) -> Joints:
    """Draw the covariates of all joints."""
    primaries, days, units = setting.primaries, setting.days, setting.units
    calendar_year, year = days.calendar_years(primaries.day), days.year_numbers(primaries.day)
    pair = _pairs(setting, year)
    hospital, surgeon = units.pair_hospital[pair], units.pair_surgeon[pair]
    work = _class_work(setting)
    joint_class = _classes(setting, year, surgeon, work)
    person = _people(setting, joint_class, calendar_year)
    operations = primaries.registered * days.operations[year]
    return Joints(
        primaries=primaries,
        calendar_year=calendar_year,
        year=year,
        pair=pair,
        hospital=hospital,
        surgeon=surgeon,
        joint_class=joint_class,
        side=_sides(setting),
        surgeon_volume=(operations * work[joint_class, year, surgeon]).astype(np.float32),
        classes=tuple(joint_class.name for joint_class in setting.parameters.classes),
        heads=tuple(dict.fromkeys(size for kind in setting.parameters.classes for size in kind.head_sizes)),
        **person,
        **draw_devices(setting, work, joint_class, year, hospital, surgeon),
        **_sizes(setting, person["sex"]),
        **_habits(setting, year, hospital, surgeon),
    )


def _pairs(setting: Setting, year: np.ndarray) -> np.ndarray:
    """Draw who does each joint and where; second sides mostly stay with the first."""
    rng, primaries, units = setting.stream("pairs"), setting.primaries, setting.units
    draw, stays = rng.random(setting.count), rng.random(setting.count) < setting.parameters.structure.same_surgeon
    pair = np.empty(setting.count, np.int16)
    for number, weight in enumerate(units.pair_weight):
        bounds = np.cumsum(weight)
        here = np.flatnonzero(year == number)
        pair[here] = np.searchsorted(bounds, draw[here] * bounds[-1], side="right")
    before = pair[primaries.first_of_patient]
    keeps = primaries.second & (stays | primaries.same_day) & (units.pair_weight[year, before] > 0)
    return np.where(keeps, before, pair)


def _class_work(setting: Setting) -> np.ndarray:
    """Share of each year's operations that are one surgeon's in one class; (classes, years, surgeons)."""
    work = setting.units.surgeon_years(setting.units.pair_weight)
    left, lesser = work, []
    rest = np.ones(setting.days.years)
    for joint_class in setting.parameters.classes[1:]:
        wished = setting.days.shares(joint_class.share)
        lesser.append(left * habit_shares(setting.units.surgeons.appetite, left, wished / rest))
        left, rest = left - lesser[-1], rest - wished
    return np.stack([left, *lesser])


def _classes(setting: Setting, year: np.ndarray, surgeon: np.ndarray, work: np.ndarray) -> np.ndarray:
    """Draw the class of each joint; second sides mostly get the class of the first."""
    rng, primaries = setting.stream("classes"), setting.primaries
    draw, stays = rng.random(setting.count), rng.random(setting.count) < setting.parameters.structure.same_class
    bounds = np.cumsum(work / np.maximum(work.sum(axis=0), 1e-300), axis=0)
    joint_class = np.minimum((draw >= bounds[:, year, surgeon]).sum(axis=0), len(work) - 1).astype(np.uint8)
    before = joint_class[primaries.first_of_patient]
    stays = primaries.second & (stays | primaries.same_day) & (work[before, year, surgeon] > 0)
    return np.where(stays, before, joint_class)


def _people(setting: Setting, joint_class: np.ndarray, calendar_year: np.ndarray) -> dict[str, np.ndarray]:
    """Draw the patients by the class of their first joint, and carry them to their second."""
    rng, first = setting.stream("people"), setting.primaries.first_of_patient
    normal = {name: rng.standard_normal(setting.count) for name in ("age", "bmi", "asa", "change")}
    uniform = rng.random(setting.count)
    age, bmi = np.empty(setting.count), np.empty(setting.count)
    sex, asa, diagnosis = (np.empty(setting.count, np.uint8) for _ in range(3))
    for number, kind in enumerate(setting.parameters.classes):
        own = joint_class == number
        age[own] = kind.age[0] + kind.age[1] * normal["age"][own]
        bmi[own] = _skewed(*kind.bmi, normal["bmi"][own])
        sex[own] = np.where(uniform[own] < kind.female, words.SEXES.index("female"), words.SEXES.index("male"))
        asa[own] = _ordered(kind.asa, words.ASA_CLASSES, 0.5 * normal["age"][own] + 0.866 * normal["asa"][own])
        diagnosis[own] = drawn(rng, dict(kind.diagnoses), words.DIAGNOSES, int(own.sum()))
    birth_year = (calendar_year - np.clip(np.rint(age), 30, 97).astype(np.int16))[first]
    drift = 0.04 * (calendar_year - 2013) + 0.5 * normal["change"]
    return {
        "birth_year": birth_year,
        "age": (calendar_year - birth_year).astype(np.uint8),
        "sex": sex[first],
        "asa": asa[first],
        "diagnosis": diagnosis[first],
        "bmi": np.clip(np.rint(10 * (bmi[first] + drift)), 160, 690).astype(np.int16),
    }


def _skewed(mean: float, sd: float, normal: np.ndarray) -> np.ndarray:
    """Turn normal values into log-normal ones of that mean and SD."""
    variance = np.log1p((sd / mean) ** 2)
    return np.exp(np.log(mean) - variance / 2 + np.sqrt(variance) * normal)


def _ordered(shares: Shares, listed: tuple[str, ...], normal: np.ndarray) -> np.ndarray:
    """Cut normal values into ordered words by their shares."""
    total = np.cumsum(list(shares.values()))
    bounds = [NormalDist().inv_cdf(min(share / total[-1], 1 - 1e-9)) for share in total[:-1]]
    return np.array([listed.index(word) for word in shares], np.uint8)[np.digitize(normal, bounds)]


def _sides(setting: Setting) -> np.ndarray:
    rng, primaries = setting.stream("sides"), setting.primaries
    right = rng.random(setting.count) < setting.parameters.structure.right_side
    return np.where(primaries.second, ~right[primaries.first_of_patient], right).astype(np.uint8)


def _sizes(setting: Setting, sex: np.ndarray) -> dict[str, np.ndarray]:
    """Draw sizes by sex: one bone size a patient, a little different between the sides."""
    rng, first = setting.stream("sizes"), setting.primaries.first_of_patient
    bone = MIDDLE_SIZE + np.where(sex == words.SEXES.index("male"), 1.3, -0.4) + rng.normal(0, 1.0, setting.count)
    size = np.clip(np.rint(bone[first] + rng.normal(0, 0.2, setting.count)), 1, SIZES)
    beside = np.clip(np.rint(rng.normal(0, 0.5, setting.count)), -SIZE_STEPS, SIZE_STEPS)
    other = np.clip(size + beside, 1, SIZES)
    return {"first_size": size.astype(np.uint8), "other_size": other.astype(np.uint8)}


def _habits(setting: Setting, year: np.ndarray, hospital: np.ndarray, surgeon: np.ndarray) -> dict[str, np.ndarray]:
    """Draw approach and prophylaxis: mostly the surgeon's and the hospital's usual one."""
    rng, structure = setting.stream("habits"), setting.parameters.structure
    usual = drawn(rng, dict(structure.approaches), words.APPROACHES, len(setting.units.surgeons.codes))
    other = drawn(rng, dict(structure.approaches), words.APPROACHES, setting.count)
    keeps = rng.random(setting.count) < structure.habit
    # A hospital keeps its place among all hospitals, and changes when the trends move past it.
    hospitals = len(setting.units.hospitals.codes)
    place = (rng.permutation(hospitals) + 0.5) / hospitals
    draw = np.where(rng.random(setting.count) < structure.habit, place[hospital], rng.random(setting.count))
    return {
        "approach": np.where(keeps, usual[surgeon], other),
        "prophylaxis": setting.by_year(structure.prophylaxes, words.PROPHYLAXES, year, draw),
    }
