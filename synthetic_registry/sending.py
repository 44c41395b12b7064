"""
When each record reaches the register: hospitals submit once a quarter what they have completed by then,
so a record that is written late comes with a later submission, or not at all by the end.
"""

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from synthetic_registry.records import PRIMARY, Records
from synthetic_registry.several import Several

NOT_SENT = -1


def quarter_ends(start: date, through: date) -> list[date]:
    """
    List the ends of the quarters from `start` to `through`; the last one ends with `through`.

    >>> [str(day) for day in quarter_ends(date(2002, 1, 1), date(2002, 8, 15))]
    ['2002-03-31', '2002-06-30', '2002-08-15']
    """
    ends: list[date] = []
    year, month = start.year, 3 * ((start.month - 1) // 3) + 4
    while not ends or ends[-1] < through:
        end = date(year + (month > 12), (month - 1) % 12 + 1, 1) - timedelta(days=1)
        ends.append(min(end, through))
        year, month = (year + 1, month - 9) if month > 12 else (year, month + 3)
    return ends


@dataclass(frozen=True)
class Schedule:
    """One entry a submission, hospital by hospital in order of time; days from the register's first."""

    hospital: np.ndarray
    sequence: np.ndarray  # from 1 in each hospital
    complete_through: np.ndarray
    received: np.ndarray

    def first_of(self, hospital: int) -> tuple[int, int]:
        """Find a hospital's submissions: the first, and the one after its last."""
        low, high = np.searchsorted(self.hospital, [hospital, hospital + 1])
        return int(low), int(high)

    def last_of(self, submission: np.ndarray) -> np.ndarray:
        """Find the last submission of the hospital that sends each of these."""
        return np.searchsorted(self.hospital, self.hospital[submission], side="right") - 1


def make_schedule(several: Several) -> Schedule:
    """Plan every hospital's submissions, from the quarter in which it joins; some send every second quarter only."""
    setting = several.registers[0].setting
    rng, reporting, days = several.stream("schedule"), several.reporting, several.days
    ends = np.array([days.number(end) for end in quarter_ends(days.start, days.through)])
    hospitals = setting.units.hospitals
    starts = days.year_numbers(ends)
    batching = rng.choice(len(hospitals.codes), min(reporting.batching_hospitals, len(hospitals.codes)), replace=False)
    parts = []
    for hospital, first_year in enumerate(hospitals.first_year):
        own = ends[starts >= first_year]
        own = own[::-1][::2][::-1] if hospital in batching else own
        received = own + rng.integers(*reporting.submitted, len(own), endpoint=True)
        parts.append((np.full(len(own), hospital), np.arange(1, len(own) + 1), own, received))
    return Schedule(*(np.concatenate(columns) for columns in zip(*parts)))


def lags(several: Several, records: Records) -> np.ndarray:
    """Draw how many days it takes until each record is complete; (operations,) int."""
    reporting, rng = several.reporting, several.stream("lags")
    median = np.where(records.operations["kind"] == PRIMARY, reporting.lag["primary"], reporting.lag["revision"])
    lag = median * np.exp(reporting.lag_sd * rng.standard_normal(len(records)))
    return np.minimum(lag, reporting.longest_lag).astype(np.int64)


def submissions_of(schedule: Schedule, hospital: np.ndarray, day: np.ndarray, lag: np.ndarray | int) -> np.ndarray:
    """
    Find the submission that brings each record: the first that covers its day and is sent once it is complete.

    Returns:
        (n,) position in the schedule, NOT_SENT where no submission comes late enough.
    """
    submission = np.full(len(day), NOT_SENT, np.int64)
    ready = day + lag
    for number in np.unique(hospital):
        low, high = schedule.first_of(int(number))
        ours = np.flatnonzero(hospital == number)
        covered = np.searchsorted(schedule.complete_through[low:high], day[ours], side="left")
        complete = np.searchsorted(schedule.received[low:high], ready[ours], side="left") if np.any(lag) else 0
        place = low + np.maximum(covered, complete)
        submission[ours] = np.where(place < high, place, NOT_SENT)
    return submission
