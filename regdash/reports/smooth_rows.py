"""Where along a field a curve has its knots, its reference and its ends; and at which values it is told."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from regdash.errors import FilterError, ModelError
from regdash.reports import smooth_wording
from regdash.reports.measured import VOLUME, Measured
from regdash.reports.patterns import Patterns
from regdash.reports.policy import BESIDE_SMALL, Policy
from regdash.reports.smooth_model import SmoothCurve, SmoothRow
from regdash.stats.cox import HazardRatio
from regdash.stats.events import FIRST_REASON
from regdash.stats.spline import KNOT_SHARES, counted_quantiles

if TYPE_CHECKING:
    from regdash.reports.smoothed import Smoothed

SHOWN = (0.05, 0.95)  # shares of the joints below the ends of the curve
KNOTS, FEWEST, MOST = 4, 3, 5
MOST_STEPS = 8  # between the values of a table, where they are round
MOST_POINTS = 400  # of a curve
STEPS = (1, 2, 5)
RATIO_STEPS = (1, 2, 3, 5, 7)  # where the curve bends by ratios


@dataclass(frozen=True, eq=False)
class Along:
    """A field of numbers as the joints of a model have it."""

    field: Measured
    values: np.ndarray  # (P,) of each pattern
    joints: np.ndarray  # (P,)
    revised: np.ndarray  # (P,)
    reference: float
    knots: tuple[float, ...]
    low: float
    high: float

    @property
    def percentiles(self) -> tuple[float, ...]:
        """Shares of the joints below each knot."""
        return KNOT_SHARES[len(self.knots)]

    @property
    def scaled_knots(self) -> tuple[float, ...]:
        """The knots on the scale of the curve."""
        return tuple(self.field.scaled(np.array(self.knots)).tolist())


def along(field: Measured, patterns: Patterns, reference: float | None, knots: int | None) -> Along:
    """
    Place knots, reference and ends by the joints of the model.

    Args:
        reference: None: the median; knots: None: 4, or 3 where two would fall together.

    Raises:
        FilterError: a reference outside the ends, or a number of knots that there is not.
        ModelError: too few values.
    """
    covariate, table = patterns.covariates[0], patterns.table
    values = np.array([float(label) for label in covariate.labels])[covariate.level]
    size = len(values)
    joints = np.bincount(table.group, table.joints, size).astype(np.int64)
    revised = np.bincount(table.group, table.joints * (table.outcome >= FIRST_REASON), size).astype(np.int64)
    low, high = (_on_step(at, field, up) for at, up in zip(counted_quantiles(values, joints, SHOWN), (True, False)))
    found = _knots(field, values, joints, knots)
    (median,) = counted_quantiles(values, joints, [0.5])
    if reference is None:
        reference = min(max(_on_step(median, field, up=False), low), high)
    _checked([reference], field)
    if not low <= reference <= high:
        raise FilterError(
            f"The reference {reference:g} lies outside {low:g} to {high:g}, the range of {field.field.key} in which "
            "there are joints enough for a curve. Name a value within it."
        )
    return Along(field, values, joints, revised, reference, found, low, high)


def _knots(field: Measured, values: np.ndarray, joints: np.ndarray, asked: int | None) -> tuple[float, ...]:
    if asked is not None and not FEWEST <= asked <= MOST:
        raise FilterError(f"A curve has {FEWEST} to {MOST} knots, not {asked}.")
    for knots in (KNOTS, FEWEST) if asked is None else (asked,):
        found = counted_quantiles(values, joints, KNOT_SHARES[knots])
        if len(set(found)) == knots:
            return found
    at = ", ".join(f"{value:g}" for value in found)
    advice = "Take fewer knots, or compare bands." if knots > FEWEST else "Compare bands."
    raise ModelError(
        f"Too many of these joints have one {field.field.key} for a curve with {knots} knots: they would stand at "
        f"{at}. {advice}"
    )


def _on_step(value: float, field: Measured, up: bool) -> float:
    """The nearest value that the register can hold, not below or not above."""
    steps = value * field.per_unit
    return (math.ceil(steps - 1e-9) if up else math.floor(steps + 1e-9)) / field.per_unit


def _checked(values: Sequence[float], field: Measured) -> None:
    for value in values:
        if not math.isfinite(value) or value < 0 or not field.held(value):
            form = "with one decimal at most" if field.per_unit > 1 else "whole"
            raise FilterError(f"{value:g} is no {field.field.key}: it is {form}, and not below 0.")


def round_values(field: Measured, low: float, high: float) -> list[float]:
    """
    Choose values of a range to tell a curve at: its lower end, and round ones.

    >>> from regdash.reports.measured import measured
    >>> round_values(measured("age"), 48, 84)
    [48, 50.0, 55.0, 60.0, 65.0, 70.0, 75.0, 80.0]
    >>> round_values(measured("volume"), 3, 34)
    [3, 5.0, 7.0, 10.0, 20.0, 30.0]
    """
    if field.field.key == VOLUME:
        found = [float(step * 10**power) for power in range(5) for step in RATIO_STEPS]
    else:
        sizes = (step * 10.0**power for power in range(-1, 5) for step in STEPS)
        size = next(size for size in sizes if (high - low) / size <= MOST_STEPS and size >= field.step)
        found = [size * n for n in range(math.ceil(low / size), math.floor(high / size) + 1)]
    return sorted({low, *(value for value in found if low <= value <= high)})


def rows_of(policy: Policy, asked: Smoothed, at: Sequence[float], why: str | None) -> tuple[SmoothRow, ...]:
    """
    Tell the curve at some values, with the joints from each up to the next.

    Args:
        at: the values; none: round ones. The lower end and the reference are told with them.
        why: no ratio is given, and for what reason.

    Raises:
        FilterError: a value that the field cannot have.
    """
    own = asked.along
    _checked(at, own.field)
    told = sorted({own.low, own.reference, *(at or round_values(own.field, own.low, own.high))})
    inside = [value for value in told if own.low <= value <= own.high]
    ratios: dict[float | None, HazardRatio] = {} if why else dict(zip(inside, asked.ratios(inside, policy.level)))
    ends = _ends(own, told)
    counts = np.array([[_within(own, end, of) for end in ends] for of in (own.joints, own.revised)])
    hidden = policy.hidden_parts(counts).tolist() if policy.withholds_counts else [False] * len(ends)
    return tuple(
        _row(policy, end, ratios.get(end.value), (joints, revised), is_hidden, why or _beyond(own, end))
        for end, (joints, revised), is_hidden in zip(ends, counts.T.tolist(), hidden)
    )


@dataclass(frozen=True)
class End:
    """Those counted in one row."""

    value: float | None  # at which the curve is told; None: at none
    first: float | None  # the smallest value of those counted; None: of all
    last: float | None  # the largest; None: of all


def _row(
    policy: Policy, end: End, found: HazardRatio | None, counts: tuple[int, int], is_hidden: bool, no_ratio: str | None
) -> SmoothRow:
    small = (policy.why_small(*counts) or BESIDE_SMALL) if is_hidden else None
    reason = "; ".join(filter(None, (no_ratio, small))) or None
    joints, revisions = (None, None) if is_hidden else counts
    if found is None or no_ratio:
        return SmoothRow(end.value, end.first, end.last, joints, revisions, None, None, None, reason)
    return SmoothRow(end.value, end.first, end.last, joints, revisions, found.ratio, found.lower, found.upper, reason)


def _ends(own: Along, told: Sequence[float]) -> list[End]:
    """Part all joints: before the first value told, from each to the next, and over the upper end of the curve."""
    starts: list[tuple[float | None, float]] = [(value, value) for value in told]
    if told[-1] <= own.high < own.values.max():
        starts.append((None, round(own.high + own.field.step, 1)))
    lasts = [round(first - own.field.step, 1) for _, first in starts[1:]]
    before = [End(None, None, round(told[0] - own.field.step, 1))] if own.values.min() < told[0] else []
    return before + [End(value, first, last) for (value, first), last in zip(starts, [*lasts, None])]


def _within(own: Along, end: End, counts: np.ndarray) -> int:
    inside = own.values >= (-math.inf if end.first is None else end.first - 1e-9)
    inside &= own.values <= (math.inf if end.last is None else end.last + 1e-9)
    return int(counts[inside].sum())


def _beyond(own: Along, end: End) -> str | None:
    """Say why nothing is told of a value, or of a part without one; None within the range."""
    at = end.first if end.value is None else end.value
    if at is None or at < own.low:
        return smooth_wording.beyond(own.low, SHOWN[0], is_low=True)
    return smooth_wording.beyond(own.high, SHOWN[1], is_low=False) if at > own.high else None


def curve_of(policy: Policy, asked: Smoothed, why: str | None) -> SmoothCurve:
    """Read the curve at every value of its range that the register can hold, or evenly where those are many."""
    own = asked.along
    steps = round((own.high - own.low) * own.field.per_unit)
    every = -(-steps // MOST_POINTS) or 1
    values = np.array([]) if why else np.array([own.low + n / own.field.per_unit for n in range(0, steps + 1, every)])
    values = values.round(1)
    found = asked.ratios(values.tolist(), policy.level) if len(values) else ()
    arrays = [
        np.array([np.nan if figure is None else figure for figure in figures])
        for figures in zip(*((ratio.ratio, ratio.lower, ratio.upper) for ratio in found))
    ] or [np.array([])] * 3
    return SmoothCurve(values, *arrays)
