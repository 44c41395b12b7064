"""
Risk-adjusted CUSUM: is a unit's rate drifting up now? What is expected lowers it, each event raises it. A signal
is evidence worth a look, not a finding.
"""

from dataclasses import dataclass
from math import log
from typing import Literal

import numpy as np

from regdash.errors import CountError
from regdash.stats.counts import amounts, whole_numbers
from regdash.stats.dated_events import DatedEvents

Reset = Literal["zero", "half", "none"]


@dataclass(frozen=True)
class Signal:
    """An event that took a CUSUM from below its limit to it, or above."""

    date: int
    event: int  # events up to and including this one
    expected: float  # events expected until then
    value: float  # of the CUSUM, before it was reset


@dataclass(frozen=True, eq=False)
class CusumPath:
    """A CUSUM along the calendar. Within a date it falls to `before`, then rises to `highest`; a reset may follow."""

    dates: np.ndarray  # (m,) int64, rising
    before: np.ndarray  # (m,) after what was expected, before the date's events
    highest: np.ndarray  # (m,) the highest value that an event of the date took it to; `before` without one
    value: np.ndarray  # (m,) at the end of the date
    events: np.ndarray  # (m,) int64, so far
    expected: np.ndarray  # (m,) so far
    signals: tuple[Signal, ...]
    limit: float
    rho: float
    reset: Reset


def cusum(watched: DatedEvents, limit: float, rho: float = 2.0, reset: Reset = "zero") -> CusumPath:
    """
    Follow one unit in continuous time: down by (rho - 1) × expected, never below 0; up by log rho at each event.

    Args:
        watched: what was seen and expected, by date; expected first, then the events one by one.
        limit: at which it signals; `cusum_limit` finds one for a stated run between false alarms.
        rho: above 1, the rate over the expected one that it is set to detect.
        reset: where it goes on after a signal: from "zero", from "half" of the limit (quicker to signal again,
            where nothing was done), or "none": from where it is, and it signals when it comes up to the limit anew.

    Raises:
        ValueError: a limit, a rate ratio or a reset that is none.

    Source:
        Page (1954), Biometrika 41:100-115; risk-adjusted Steiner et al. (2000), Biostatistics 1:441-452;
        continuous time Biswas & Kalbfleisch (2008), Stat Med 27:3382-3406.

    >>> path = cusum(DatedEvents([1, 2, 9], [0.4, 0.5, 0.1], [1, 1, 1]), limit=1.4)
    >>> path.highest.round(4).tolist(), path.value.round(4).tolist(), len(path.signals)
    ([0.6931, 0.8863, 1.4794], [0.6931, 0.8863, 0.0], 1)
    """
    if not 1 < rho < float("inf"):
        raise ValueError(f"The rate ratio to detect is above 1; {rho} is not.")
    spans = np.maximum(watched.events, 1)
    # One step an event; a date without one is a step that only falls.
    falls = np.zeros(int(spans.sum()))
    first = np.cumsum(spans) - spans
    falls[first] = (rho - 1) * watched.expected
    rises = np.repeat(np.where(watched.events > 0, log(rho), 0.0), spans)
    low, high, after, hits = _walk(falls, rises, limit, reset)
    events, expected = np.cumsum(watched.events), np.cumsum(watched.expected)
    signals = tuple(_signal(watched, step, first, expected, events, high[step]) for step in hits)
    highest = np.maximum.reduceat(high, first) if len(first) else high
    return CusumPath(
        watched.dates, low[first], highest, after[first + spans - 1], events, expected, signals, limit, rho, reset
    )


def outcome_weights(risk: np.ndarray, odds_ratio: float = 2.0) -> tuple[np.ndarray, np.ndarray]:
    """
    Find what each joint adds to a CUSUM of outcomes that are known for all, such as revised within a year or not.

    Args:
        risk: (m,) probability of the event as expected of each joint, between 0 and 1.
        odds_ratio: above 1, the odds over the expected ones that it is set to detect.

    Returns:
        (m,) with the event, above 0, and (m,) without it, below 0.

    Raises:
        CountError: a risk that is not between 0 and 1.

    Source:
        Steiner et al. (2000), Biostatistics 1:441-452.

    >>> up, down = outcome_weights(np.array([0.5]))
    >>> up.round(4).tolist(), down.round(4).tolist()
    ([0.2877], [-0.4055])
    """
    if not 1 < odds_ratio < float("inf"):
        raise ValueError(f"The odds ratio to detect is above 1; {odds_ratio} is not.")
    risk = amounts("risks", risk)
    if np.any((risk <= 0) | (risk >= 1)):
        raise CountError("A risk that a CUSUM is adjusted by lies between 0 and 1, and is neither.")
    without = -np.log1p((odds_ratio - 1) * risk)
    return log(odds_ratio) + without, without


@dataclass(frozen=True, eq=False)
class OutcomeCusum:
    """A CUSUM joint by joint."""

    highest: np.ndarray  # (m,) after each joint, before a reset
    value: np.ndarray  # (m,) after each joint
    signals: np.ndarray  # (s,) int64, number of the joints at which it signalled
    limit: float
    reset: Reset


def outcome_cusum(
    risk: np.ndarray, happened: np.ndarray, limit: float, odds_ratio: float = 2.0, reset: Reset = "zero"
) -> OutcomeCusum:
    """
    Follow outcomes that are known for all joints, in the order in which they became known.

    Args:
        risk, odds_ratio: as `outcome_weights`.
        happened: (m,) int, 1 with the event, 0 without it.
        limit, reset: as `cusum`.

    Raises:
        CountError: a risk or an outcome that is none, or unequal lengths.
        ValueError: a limit or a reset that is none.
    """
    up, down = outcome_weights(risk, odds_ratio)
    happened = whole_numbers("outcomes", happened)
    if len(happened) != len(up) or np.any(happened > 1):
        raise CountError(f"Each of {len(up)} joints needs one outcome, 0 or 1.")
    falls, rises = np.where(happened == 1, 0.0, -down), np.where(happened == 1, up, 0.0)
    _, high, after, hits = _walk(falls, rises, limit, reset)
    return OutcomeCusum(high, after, np.array(hits, dtype=np.int64), limit, reset)


def _walk(
    falls: np.ndarray, rises: np.ndarray, limit: float, reset: Reset
) -> tuple[np.ndarray, np.ndarray, np.ndarray, list[int]]:
    """(k,) after each fall, after the rise that follows it, and after a reset; and the steps with a signal."""
    if not 0 < limit < float("inf"):
        raise ValueError(f"The limit of a CUSUM is above 0; {limit} is not.")
    if reset not in ("zero", "half", "none"):
        raise ValueError(f"After a signal a CUSUM goes on from zero, half or none of its limit, not {reset}.")
    low, high, after = np.empty(len(falls)), np.empty(len(falls)), np.empty(len(falls))
    value, hits = 0.0, []
    for step, (fall, rise) in enumerate(zip(falls.tolist(), rises.tolist(), strict=True)):
        low[step] = below = max(0.0, value - fall)
        high[step] = value = below + rise
        if value >= limit > below:
            hits.append(step)
            value = {"zero": 0.0, "half": limit / 2, "none": value}[reset]
        after[step] = value
    return low, high, after, hits


def _signal(
    watched: DatedEvents, step: int, first: np.ndarray, expected: np.ndarray, events: np.ndarray, value: float
) -> Signal:
    row = int(np.searchsorted(first, step, side="right")) - 1
    number = int(events[row] - watched.events[row]) + step - int(first[row]) + 1
    return Signal(int(watched.dates[row]), number, float(expected[row]), float(value))
