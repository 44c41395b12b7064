"""
Patients and which of their joints are operated when: one side, both on one day, or one after the other;
and joints done before the register began, of which it will see only the revisions.
"""

from dataclasses import dataclass

import numpy as np

from synthetic_registry.operation_days import OperationDays
from synthetic_registry.parameters import DAYS_A_YEAR, Parameters
from synthetic_registry.streams import stream

LONGEST_BEFORE = 12  # years: no joint older than this at the register's start


@dataclass(frozen=True)
class Primaries:
    """One entry a primary joint; those from before the register's start come last."""

    patient: np.ndarray  # number of the patient, from 0
    day: np.ndarray  # of implantation, from the register's first day; negative before it
    second: np.ndarray  # bool: the other side was done before, or on the same day
    same_day: np.ndarray  # bool: both sides on this day
    first_of_patient: np.ndarray  # position of the patient's first joint
    gap: np.ndarray  # days from this primary to the patient's last one, of any kind of joint
    registered: int  # how many joints the register should hold

    @property
    def patients(self) -> int:
        """How many patients there are."""
        return int(self.patient.max()) + 1


def draw_primaries(
    parameters: Parameters, days: OperationDays, joints: int, seed: int, *, prior: bool = True
) -> Primaries:
    """Draw the patients of a register of exactly so many joints."""
    rng, structure = stream(seed, parameters.stream("patients")), parameters.structure
    pairs = round(joints * structure.both_sides / (1 + structure.both_sides))
    same = min(round(joints * structure.same_day / 2), pairs)
    single = joints - 2 * pairs
    before = -_before(rng, parameters, round(joints * structure.prior[0]) if prior else 0)
    first_staged, second_staged = _staged(rng, parameters, days, pairs - same)
    together = days.draw(rng, same)
    alone = _alone(rng, days, single, np.concatenate([together, together, first_staged, second_staged]))
    firsts = np.concatenate([alone, together, first_staged])
    seconds = np.concatenate([together, second_staged])
    day = np.concatenate([firsts, seconds, before]).astype(np.int32)
    paired = np.arange(single, len(firsts))
    patient = np.concatenate([np.arange(len(firsts)), paired, len(firsts) + np.arange(len(before))])
    gap = np.zeros(len(day), np.int32)
    gap[paired] = seconds - firsts[paired]
    number = np.arange(len(day))
    return Primaries(
        patient=patient.astype(np.int32),
        day=day,
        second=(number >= len(firsts)) & (number < joints),
        same_day=np.isin(patient, paired[:same]) & (number < joints),
        first_of_patient=np.concatenate([np.arange(len(firsts)), paired, joints + np.arange(len(before))]),
        gap=gap,
        registered=joints,
    )


def _staged(
    rng: np.random.Generator, parameters: Parameters, days: OperationDays, count: int
) -> tuple[np.ndarray, np.ndarray]:
    """Draw both days of patients whose sides were done one after the other, both in the register's time."""
    median, sd = parameters.structure.staged_gap
    first, second = np.empty(count, np.int32), np.empty(count, np.int32)
    waiting = np.arange(count)
    while len(waiting):
        start = days.draw(rng, len(waiting))
        gap = np.exp(np.log(median * DAYS_A_YEAR) + sd * rng.standard_normal(len(waiting)))
        end = start + np.maximum(gap, 42).astype(np.int64)
        # The second side keeps to the calendar as well: a day is taken as often as it sees operations.
        fits = (end <= days.last) & (rng.random(len(waiting)) < days.season[np.minimum(end, days.last)])
        first[waiting[fits]], second[waiting[fits]] = start[fits], end[fits]
        waiting = waiting[~fits]
    return first, second


def _alone(rng: np.random.Generator, days: OperationDays, count: int, others: np.ndarray) -> np.ndarray:
    """Draw the days of one-sided patients so that, with the others, every year has its share of operations."""
    done = np.bincount(days.year_numbers(others), minlength=days.years)
    expected = days.operations * (count + len(others))
    return days.draw(rng, count, np.maximum(expected - done, 0.1 * expected) / expected)


def _before(rng: np.random.Generator, parameters: Parameters, count: int) -> np.ndarray:
    """Draw how many days before the register's start older joints were implanted."""
    mean = parameters.structure.prior[1] * DAYS_A_YEAR
    longest = 1 - np.exp(-LONGEST_BEFORE * DAYS_A_YEAR / mean)
    return 1 + np.floor(-mean * np.log1p(-rng.random(count) * longest)).astype(np.int32)
