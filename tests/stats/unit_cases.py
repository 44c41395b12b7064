"""Made-up joints of several units and strata, and what is expected of them, slowly: joint by joint, day by day."""

from dataclasses import dataclass
from fractions import Fraction
from random import Random

import numpy as np
from hypothesis import strategies as st

from regdash.stats.cox_counts import PatternCounts
from regdash.stats.events import Entries

UNITS, STRATA = 3, 2
NAMES = ("H001", "H002", "H003")


@dataclass(frozen=True)
class UnitJoint:
    """At risk from the day after start (-1: from before day 0) up to stop."""

    unit: int
    stratum: int
    start: int
    stop: int
    event: int


def _joint(unit: int, stratum: int, start: int, days: int, event: int) -> UnitJoint:
    return UnitJoint(unit, stratum, start, start + days, event)


some_joints = st.lists(
    st.builds(
        _joint,
        st.integers(0, UNITS - 1),
        st.integers(0, STRATA - 1),
        st.sampled_from([-1, -1, -1, 0, 3]),
        st.integers(1, 6),
        st.integers(0, 1),
    ),
    min_size=1,
    max_size=25,
)


def unit_of_pattern() -> np.ndarray:
    """Patterns are units × strata."""
    return np.repeat(np.arange(UNITS), STRATA)


def unit_counts(joints: list[UnitJoint], shuffled: Random | None = None) -> PatternCounts:
    """Count them; shuffled, in another order and with every second row counted as two rows of one joint."""
    rows = [(one.unit * STRATA + one.stratum, one, 2 if shuffled is None else 1) for one in joints]
    if shuffled is not None:
        rows = rows * 2
        shuffled.shuffle(rows)
    late = [(pattern, one.start, many) for pattern, one, many in rows if one.start >= 0]
    entries = Entries(*np.array(late, dtype=np.int64).T) if late else None
    pattern, stop, event, many = np.array(
        [(pattern, one.stop, one.event, many) for pattern, one, many in rows], dtype=np.int64
    ).T
    stratum = np.tile(np.arange(STRATA), UNITS)
    return PatternCounts(UNITS * STRATA, pattern, stop, event, many, stratum, entries)


def hazard_on(joints: list[UnitJoint], stratum: int, day: int) -> Fraction | None:
    """Events over joints at risk; None where nobody is."""
    there = [one for one in joints if one.stratum == stratum and one.start < day <= one.stop]
    if not there:
        return None
    return Fraction(sum(one.event and one.stop == day for one in there), len(there))


def expected_of(joints: list[UnitJoint], reference: list[UnitJoint]) -> Fraction:
    """The reference's hazards, added up over every day on which each joint is at risk."""
    total = Fraction(0)
    for one in joints:
        for day in range(one.start + 1, one.stop + 1):
            total += hazard_on(reference, one.stratum, day) or 0
    return total
