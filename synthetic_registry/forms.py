"""
What forms ask beside the operation itself: height and weight, codes of diagnoses, days in hospital, the system
of a robot or of navigation, and what labels say. Each hospital has its own habits.
"""

import numpy as np

from regdash import vocabulary as words
from synthetic_registry import all_words
from synthetic_registry.catalogue import NONE
from synthetic_registry.records import EMPTY, PRIMARY, Columns, Records
from synthetic_registry.several import Several
from synthetic_registry.streams import spread
from synthetic_registry.true_components import BRACKETED, IMPLANTED, NO_LABEL, RAW, SHELF_LIFE

WRITES_BODY, WRITES_CODES, READS_LABELS = 0.75, 0.6, 0.55  # shares of hospitals
KEEPS_HABIT = 0.93  # share of records in which a hospital does what it mostly does
STAYS = (6.5, 2.0)  # mean nights after the operation, at the register's start and in 2024
DAY_BEFORE = 0.2  # share admitted the day before
ROBOT, NAVIGATED = (words.TECHNOLOGIES.index(word) for word in ("robot-assisted", "navigated"))


def form_columns(several: Several, records: Records) -> Columns:
    """Work out the columns of operations that are not of the implants."""
    operations = records.operations
    year = several.days.calendar_years(operations["day"])
    writes = _habit(several, "height and weight", WRITES_BODY, operations["hospital"])
    writes &= year >= several.reporting.body_size_from
    height = several.height[operations["patient"]]
    weight = np.rint(operations["bmi"] * (height.astype(float) / 100) ** 2).astype(np.int16)
    return {
        "height": np.where(writes, height, NONE).astype(np.int16),
        "weight": np.where(writes, weight, NONE).astype(np.int16),  # tenths of kg
        "icd10": _codes(several, records),
        **_stays(several, operations, year),
        "system": _systems(several, operations),
    }


def _habit(several: Several, what: str, share: float, hospital: np.ndarray) -> np.ndarray:
    """Say in which records a hospital does something that some hospitals mostly do; (n,) bool."""
    rng = several.stream(f"habit, {what}")
    place = rng.permutation(len(several.hospitals))
    does = place < share * len(several.hospitals)
    return does[hospital] & (rng.random(len(hospital)) < KEEPS_HABIT)


def _codes(several: Several, records: Records) -> np.ndarray:
    """Write codes of diagnoses, of primaries by the diagnosis and of revisions by the leading reason; uint8."""
    operations = records.operations
    table = np.full((len(words.JOINTS), len(words.DIAGNOSES) + 1), EMPTY, np.uint8)
    for place, joint in enumerate(words.JOINTS):
        for diagnosis, code in all_words.DIAGNOSIS_CODES[joint].items():
            table[place, words.DIAGNOSES.index(diagnosis)] = all_words.ICD10.index(code)
    codes = table[operations["limb"], np.minimum(operations["diagnosis"], len(words.DIAGNOSES))]
    revision = operations["kind"] != PRIMARY
    first = np.cumsum(records.reason_counts) - records.reason_counts
    by_reason = _reason_codes()
    given = revision & (records.reason_counts > 0)
    codes[given] = by_reason[records.reasons["reason"][first[given]]]
    writes = _habit(several, "codes", WRITES_CODES, operations["hospital"])
    return np.where(writes, codes, EMPTY).astype(np.uint8)


def _reason_codes() -> np.ndarray:
    groups = {reason.detail: reason.group for joint in words.JOINTS for reason in words.REASONS[joint]}
    codes = all_words.REVISION_CODES
    listed = [all_words.ICD10.index(codes.get(groups[detail], codes[""])) for detail in all_words.REASONS]
    return np.array(listed, np.uint8)


def _stays(several: Several, operations: Columns, year: np.ndarray) -> Columns:
    """Draw days of admission and discharge, as days of the register; nobody is discharged after death."""
    rng, day = several.stream("stays"), operations["day"]
    mean = np.interp(year, [several.days.start.year, 2024], STAYS)
    nights = rng.geometric(1 / (mean + 1)) - 1
    death = several.exits.death_day[operations["patient"]]
    return {
        "admission": np.maximum(day - (rng.random(len(day)) < DAY_BEFORE), 0).astype(np.int32),
        "discharge": np.minimum(day + np.minimum(nights, 10), np.maximum(death, day)).astype(np.int32),
    }


def hospital_systems(several: Several) -> dict[int, np.ndarray]:
    """Find which robot and which navigation system each hospital has, by technology; (hospitals,) positions."""
    rng, count = several.stream("systems"), len(several.hospitals)
    return {
        ROBOT: rng.integers(all_words.ROBOTS.start, all_words.ROBOTS.stop, count).astype(np.uint8),
        NAVIGATED: rng.integers(all_words.NAVIGATION.start, all_words.NAVIGATION.stop, count).astype(np.uint8),
    }


def _systems(several: Several, operations: Columns) -> np.ndarray:
    system = np.full(len(operations["day"]), EMPTY, np.uint8)
    for technology, of_hospital in hospital_systems(several).items():
        uses = operations["technology"] == technology
        system[uses] = of_hospital[operations["hospital"][uses]]
    return system


def label_columns(several: Several, records: Records) -> Columns:
    """Work out what the labels of the implanted components say, where the hospital reads labels."""
    components, owner = records.components, records.component_owner
    year = several.days.calendar_years(records.operations["day"])[owner]
    hospital = records.operations["hospital"][owner]
    reads = (components["action"] == IMPLANTED) & (year >= several.reporting.labels_from)
    reads &= _habit(several, "labels", READS_LABELS, hospital)
    rng = several.stream("labels")
    brackets = (spread(rng, len(several.hospitals)) > 0)[hospital]
    labels = np.where(brackets, BRACKETED, RAW)
    shelf = rng.integers(*SHELF_LIFE, len(owner))
    rows = np.flatnonzero(reads)
    serial = np.full(len(owner), NONE, np.int32)
    serial[rows] = 10_000_000 + 7 * np.arange(len(rows))  # each once
    return {
        "label": np.where(reads, labels, NO_LABEL).astype(np.uint8),
        "serial": serial,
        "expiry": np.where(reads, records.operations["day"][owner] + shelf, NONE).astype(np.int32),
    }
