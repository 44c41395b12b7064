"""Standardised revision ratios: a unit's events over those expected of its own joints at the hazard of others."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from regdash.errors import CountError
from regdash.stats.counts import amounts, whole_numbers
from regdash.stats.cox_counts import PatternCounts
from regdash.stats.poisson import poisson_limits
from regdash.stats.reference_hazard import ReferenceHazard

_NOTHING = 1e-9  # expected events: what rounding leaves of entries and ends between which nothing is expected


@dataclass(frozen=True)
class StandardisedRatio:
    """Observed over expected events. What is not defined is None, and the note says why."""

    observed: int
    expected: float
    ratio: float | None
    lower: float | None
    upper: float | None
    p_higher: float | None  # one-sided: so many or more, were the expected the truth
    p_lower: float | None  # so many or fewer
    note: str | None = None


@dataclass(frozen=True)
class UnitRatio:
    """One unit, and how much of it the reference could not say anything about."""

    name: str
    joints: int
    events_left_out: int  # events on days, or in strata, for which the reference has no hazard; not in the ratio
    ratio: StandardisedRatio


def standardised_ratio(observed: int, expected: float, level: float = 0.95, mid_p: bool = False) -> StandardisedRatio:
    """
    Compare a count with what was expected, which is taken as known.

    Args:
        observed: events.
        expected: events at the reference's hazard; not estimated from this unit alone.
        level, mid_p: as `poisson_limits`. The p values are exact in any case.

    Raises:
        CountError: negative numbers.

    Source:
        Limits: Garwood (1936), Biometrika 28:437-442, over the expected.

    >>> found = standardised_ratio(30, 15.21)
    >>> round(found.ratio, 2), round(found.lower, 2), round(found.upper, 2)
    (1.97, 1.33, 2.82)
    """
    from scipy.special import gammainc, gammaincc

    (due,) = amounts("expected events", [expected]).tolist()
    limits = [float(limit[0]) for limit in poisson_limits(np.array([observed]), level, mid_p)]
    if due < _NOTHING:
        nothing = "nothing is expected: the unit has no follow-up at a known hazard above 0"
        return StandardisedRatio(observed, due, None, None, None, None, None, nothing)
    lower, upper = (limit / due for limit in limits)
    p_higher, p_lower = float(gammainc(observed, due)) if observed else 1.0, float(gammaincc(observed + 1, due))
    note = "fewer than 1 event is expected: a ratio says little" if due < 1 else None
    return StandardisedRatio(observed, due, observed / due, lower, upper, p_higher, p_lower, note)


def standardised_ratios(
    counts: PatternCounts,
    unit: np.ndarray,
    names: Sequence[str],
    reference: ReferenceHazard,
    relative: np.ndarray | None = None,
    level: float = 0.95,
    mid_p: bool = False,
) -> tuple[UnitRatio, ...]:
    """
    Compare each unit with a reference, on its own joints' strata and follow-up.

    Follow-up beyond the last day that the reference knows in a stratum is left out, with its events.

    Args:
        counts: joints by pattern, day and event; a pattern is a unit within a stratum of the reference.
        unit: (patterns,) int, the unit of each pattern.
        names: of the units.
        reference: a hazard, such as `hazard_of` these counts or others with the same strata.
        relative: (patterns,) hazards of the patterns relative to the reference's; left out: 1 each.

    Returns:
        One a unit, in the order of names.

    Raises:
        CountError: not one unit a pattern, a unit without a name, or a negative or broken hazard.

    Source:
        Breslow & Day (1987), Statistical Methods in Cancer Research II, chapter 2; by day since
        implantation: Berry (1983), Biometrics 39:173-184.
    """
    unit = checked_units(counts, unit, len(names))
    weight = np.ones(counts.patterns) if relative is None else amounts("relative hazards", relative)
    if len(weight) != counts.patterns:
        raise CountError(
            f"Each of {counts.patterns:,} patterns needs a relative hazard, but there are {len(weight):,}."
        )
    expected = np.bincount(unit, _expected_by_pattern(counts, reference) * weight, len(names))
    late = counts.day > reference.last_day(counts.strata[counts.pattern])
    events = counts.event * counts.weights
    of = unit[counts.pattern]
    left_out = np.bincount(of, events * late, len(names))
    observed, joints = np.bincount(of, events * ~late, len(names)), np.bincount(of, counts.weights, len(names))
    return unit_ratios(joints, observed, expected, left_out, names, level=level, mid_p=mid_p)


def checked_units(counts: PatternCounts, unit: np.ndarray, units: int) -> np.ndarray:
    """
    Read the unit of each pattern as int64.

    Raises:
        CountError: not one a pattern, or a unit without a name.
    """
    unit = whole_numbers("units", unit)
    if len(unit) != counts.patterns or np.any(unit >= units):
        raise CountError(f"Each of {counts.patterns:,} patterns needs a unit from 0 to {units - 1}.")
    return unit


def unit_ratios(
    joints: np.ndarray,
    observed: np.ndarray,
    expected: np.ndarray,
    left_out: np.ndarray,
    names: Sequence[str],
    **how: Any,
) -> tuple[UnitRatio, ...]:
    """Give each unit, (units,) of all arrays, its name and its `standardised_ratio`."""
    rows = zip(names, joints.tolist(), observed.tolist(), expected.tolist(), left_out.tolist(), strict=True)
    return tuple(
        UnitRatio(name, int(many), int(missing), standardised_ratio(int(seen), due, **how))
        for name, many, seen, due, missing in rows
    )


def _expected_by_pattern(counts: PatternCounts, reference: ReferenceHazard) -> np.ndarray:
    """(patterns,) expected events where every pattern has the reference's hazard."""
    due = reference.expected(counts.strata[counts.pattern], counts.day) * counts.weights
    expected = np.bincount(counts.pattern, due, counts.patterns)
    if counts.entered is None:
        return expected
    before = counts.entered
    missed = reference.expected(counts.strata[before.group], before.day) * before.joints
    # What was expected of an early leaver and of an entry on one day may differ by rounding.
    return np.maximum(expected - np.bincount(before.group, missed, counts.patterns), 0)
