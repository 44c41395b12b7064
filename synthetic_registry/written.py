"""
From positions in lists to the words that stand in files.
"""

from collections.abc import Sequence

import numpy as np
import polars as pl

from regdash import vocabulary as words
from synthetic_registry import all_words
from synthetic_registry.batch import Batch
from synthetic_registry.streams import stream

YES_NO = ("no", "yes")
IN_METRES = 256  # position from which heights are written in metres
UNKNOWN_WORD = "antero-superior"  # an approach of no code list, after the last one
UNKNOWN_SURGEON = "S9999"  # after the last surgeon
BOTH_SIDES = len(words.SIDES)  # position of a side that is none


def listed(values: Sequence[str | None]) -> pl.Series:
    """List what positions stand for; the one more at the end, and empty text, is an empty cell."""
    return pl.Series([value or None for value in values] + [None], dtype=pl.String)


def coded(values: Sequence[str]) -> pl.Series:
    """List words as files write them; "not recorded" is an empty cell."""
    return listed(["" if word == words.NOT_RECORDED else words.coded(word) for word in values])


def looked_up(values: pl.Series, positions: np.ndarray) -> pl.Series:
    """Write positions as words; those outside the list (EMPTY, or negative) are empty cells."""
    empty = len(values) - 1
    inside = np.where(positions < 0, empty, np.minimum(positions, empty))
    return values.gather(pl.Series(inside.astype(np.uint32)))


def patient_ids(seed: int, count: int) -> list[str]:
    """Make so many pseudonyms in the agreed form, all different, in no order."""
    rng = stream(seed, "pseudonyms")
    numbers = np.unique(rng.integers(0, 10**9, count + count // 50 + 1000))
    return [f"P{number:09d}" for number in rng.permutation(numbers)[:count].tolist()]


class Lists:
    """Every list that the columns of a register's files are written by."""

    def __init__(self, batch: Batch, patients: list[str]) -> None:
        several = batch.several
        numbers = [entry.catalogue_no for entry in several.entries]
        self.patient = listed(patients)
        dates = [several.days.date_of(day).isoformat() for day in range(batch.first_odd)]
        self.date = listed([*dates, *batch.odd_dates])
        self.hospital = listed(several.hospitals)
        self.surgeon = listed([*several.surgeons, UNKNOWN_SURGEON])
        self.bmi = listed([f"{tenths / 10:.1f}" for tenths in range(1000)])
        self.height = listed([*map(str, range(IN_METRES)), *(f"{cm / 100:.2f}" for cm in range(IN_METRES))])
        self.weight = listed([f"{tenths / 10:.1f}" for tenths in range(6000)])
        # Numbers that the catalogue does not know: the hyphen is lost.
        self.catalogue_no = listed(numbers + [number.replace("-", "") for number in numbers])
        self.yes_no = listed(YES_NO)
        self.icd10 = listed(all_words.ICD10)
        self.system = listed(all_words.SYSTEMS)
        self.note = listed(all_words.NOTES)
        self.words = {
            "sex": coded(words.SEXES),
            "joint": coded(words.JOINTS),
            "side": coded((*words.SIDES, "both")),
            "kind": coded(words.KINDS),
            "stage": coded(words.STAGES),
            "class": coded(all_words.CLASSES),
            "compartment": coded(words.COMPARTMENTS),
            "bearing": coded(words.BEARINGS),
            "constraint": coded(words.CONSTRAINTS),
            "fixation": coded(words.FIXATIONS),
            "patella": coded(words.PATELLAS),
            "approach": coded((*words.APPROACHES, UNKNOWN_WORD)),
            "technology": coded(words.TECHNOLOGIES),
            "prophylaxis": coded(words.PROPHYLAXES),
            "diagnosis": coded(words.DIAGNOSES),
            "asa": coded(words.ASA_CLASSES),
            "action": coded(words.ACTIONS),
            "role": coded(all_words.ROLES),
            "component_action": coded(words.COMPONENT_ACTIONS),
            "reason": coded(all_words.REASONS),
        }
