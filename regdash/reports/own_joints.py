"""Which implants of one maker were put in together: what tells how two of them differ. For the office alone."""

from dataclasses import dataclass

import numpy as np

from regdash.cohort import Cohort
from regdash.reports.counted import refuse_outcomes
from regdash.stats.years import days_in
from regdash.store.cuts import Cut
from regdash.store.sqlfiles import statement
from regdash.vocabulary import NOT_RECORDED

Own = tuple[str, str]  # role and code


@dataclass(frozen=True)
class OwnJoints:
    """Joints in lines of those that are alike; nothing is withheld."""

    classes: np.ndarray  # (lines,) str
    implants: tuple[frozenset[Own], ...]  # of the maker, in each line
    hospitals: np.ndarray  # (lines,) str; not recorded where there are no implants
    surgeons: np.ndarray  # (lines,) str; the same
    reasons: np.ndarray  # (lines,) str, "" unless revised
    days: np.ndarray  # (lines,) int64 to the first revision, below 0 unless revised
    joints: np.ndarray  # (lines,) int64

    def of(self, one: Own) -> np.ndarray:
        """Choose the lines with an implant in a role; (lines,) bool."""
        return np.array([one in used for used in self.implants], dtype=bool)

    def number(self, lines: np.ndarray) -> int:
        """Count joints."""
        return int(self.joints[lines].sum())

    def revised(self, lines: np.ndarray, years: float | None = None, reason: str | None = None) -> int:
        """Count joints revised, by a time or ever, for one reason or any."""
        chosen = lines & (self.days >= 0)
        if years is not None:
            chosen &= self.days <= days_in(years)
        if reason is not None:
            chosen &= self.reasons == reason
        return self.number(chosen)

    def users(self, lines: np.ndarray) -> tuple[list[int], list[int]]:
        """Count the joints of each hospital, and of each surgeon, that is recorded, the most first."""
        return self._by(self.hospitals, lines), self._by(self.surgeons, lines)

    def _by(self, codes: np.ndarray, lines: np.ndarray) -> list[int]:
        found: dict[str, int] = {}
        for code, number in zip(codes[lines].tolist(), self.joints[lines].tolist()):
            if code != NOT_RECORDED:
                found[code] = found.get(code, 0) + number
        return sorted(found.values(), reverse=True)


def own_joints(cut: Cut, cohort: Cohort, maker: str) -> OwnJoints:
    """
    Count the joints of a cohort by the implants of a maker that they hold; those with none too.

    Raises:
        FilterError: an outcome word in the cohort.
    """
    refuse_outcomes(cohort)
    predicate = cohort.predicate()
    query = statement("queries/own_implant_joints", predicate=predicate.sql)
    rows = cut.rows(query, **predicate.parameters, maker=maker)
    columns = list(zip(*rows)) or [()] * 7
    classes, implants, hospitals, surgeons, reasons, days, joints = columns
    sets = {used: frozenset(_own(one) for one in used) for used in dict.fromkeys(map(tuple, implants))}
    return OwnJoints(
        np.array(classes, dtype=object),
        tuple(sets[tuple(used)] for used in implants),
        np.array([one or NOT_RECORDED for one in hospitals], dtype=object),
        np.array([one or NOT_RECORDED for one in surgeons], dtype=object),
        np.array([one or "" for one in reasons], dtype=object),
        np.array([-1 if day is None else day for day in days], dtype=np.int64),
        np.array(joints, dtype=np.int64),
    )


def _own(text: str) -> Own:
    role, _, code = text.rpartition(":")
    return role, code
