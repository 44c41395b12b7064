"""
The records on their way to the register, as the dirt changes them step by step.
"""

from dataclasses import dataclass, replace

import numpy as np

from synthetic_registry.faults import Faults
from synthetic_registry.parameters import Dirt
from synthetic_registry.records import REVISION, Records, together
from synthetic_registry.sending import NOT_SENT, Schedule
from synthetic_registry.several import Several

NOBODY = np.zeros(0, np.int64)
MORE_DAYS = 61  # dates after the register's last day that a record may hold


@dataclass(frozen=True)
class Batch:
    """
    All records with the submission that brings each, and the faults put in so far.

    A date is a day of the register or soon after it, or from `first_odd` on one of the `odd_dates`. A patient is
    one of the register's, or after the last of them one that nobody is. A component is an entry of the catalogue,
    or after the last of them one of these under a number that the catalogue does not know.
    """

    several: Several
    schedule: Schedule
    records: Records
    submission: np.ndarray
    spoiled: np.ndarray  # bool: has a fault of its own already, and gets no second one
    faults: tuple[Faults, ...] = ()
    odd_dates: tuple[str, ...] = ()
    strangers: int = 0
    second_deaths: tuple[np.ndarray, np.ndarray] = (NOBODY, NOBODY)  # patients, and another day of death for each

    @property
    def dirt(self) -> Dirt:
        """The rates."""
        return self.several.dirt

    @property
    def first_odd(self) -> int:
        """Position of the first odd date: after the register's last day and the stays that began by then."""
        return self.several.days.last + MORE_DAYS

    @property
    def is_revision(self) -> np.ndarray:
        """Which records are revisions, as submitted."""
        return self.records.operations["kind"] == REVISION

    @property
    def sent(self) -> np.ndarray:
        """Which records a submission brings."""
        return self.submission != NOT_SENT

    @property
    def has_later(self) -> np.ndarray:
        """Whether the hospital submits once more after the record came."""
        return self.sent & (self.submission < self.schedule.last_of(self.submission))

    @property
    def whole_rows(self) -> np.ndarray:
        """Which records have no fault in the rows of their components and reasons."""
        whole = np.ones(len(self.records), bool)
        for found in self.faults:
            whole[found.record[found.table != 0]] = False
        return whole

    def years(self) -> np.ndarray:
        """Calendar year of each record, numbered from the register's first."""
        return self.several.days.year_numbers(self.records.operations["day"])

    def choose(self, rng: np.random.Generator, eligible: np.ndarray, rate: float | np.ndarray) -> np.ndarray:
        """Draw which unspoiled records get a fault; (n,) positions."""
        draw = rng.random(len(self.records))
        return np.flatnonzero(eligible & self.sent & ~self.spoiled & (draw < rate))

    def changed(self, at: np.ndarray, found: Faults, **columns: np.ndarray) -> "Batch":
        """Put new values into columns of some operations, and list the faults."""
        new = {}
        for name, values in columns.items():
            new[name] = self.records.operations[name].copy()
            new[name][at] = values
        spoiled = self.spoiled.copy()
        spoiled[at] = True
        records = self.records.with_operations(**new)
        return replace(self, records=records, spoiled=spoiled, faults=(*self.faults, found))

    def with_components(self, found: Faults, **columns: np.ndarray) -> "Batch":
        """Replace columns of the components, and list the faults."""
        return replace(self, records=self.records.with_components(**columns), faults=(*self.faults, found))

    def with_records(self, at: np.ndarray, found: Faults, records: Records) -> "Batch":
        """Replace the records by others of the same operations, of which some are spoiled, and list the faults."""
        spoiled = self.spoiled.copy()
        spoiled[at] = True
        return replace(self, records=records, spoiled=spoiled, faults=(*self.faults, found))

    def protected(self, at: np.ndarray) -> "Batch":
        """Put no further fault on any record of the joints of some records: theirs are found by what those say."""
        joint = self.records.operations["joint"]
        return replace(self, spoiled=self.spoiled | np.isin(joint, joint[at]))

    def added(self, at: np.ndarray, copies: Records, submission: np.ndarray) -> "Batch":
        """Add copies of some records, with the empty cells and unknown numbers that they have already."""
        copy = np.full(len(self.records), -1, np.int64)
        copy[at] = len(self.records) + np.arange(len(at))
        return replace(
            self,
            records=together([self.records, copies]),
            submission=np.concatenate([self.submission, submission]),
            spoiled=np.concatenate([self.spoiled, np.ones(len(submission), bool)]),
            faults=(*self.faults, *(found.copied(copy) for found in self.faults)),
        )
