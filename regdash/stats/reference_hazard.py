"""
The hazard that others are measured by: how many events are expected of a joint, by its stratum and the days it
was followed.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Protocol

import numpy as np

from regdash.errors import CountError
from regdash.stats.baseline import baseline_hazard
from regdash.stats.counts import amounts, whole_numbers
from regdash.stats.cox import CoxFit
from regdash.stats.cox_counts import PatternCounts
from regdash.stats.risk_sets import risk_sets
from regdash.stats.years import DAYS_PER_YEAR

_FOR_EVER = np.iinfo(np.int64).max


class ReferenceHazard(Protocol):
    """Expected events of one joint, from before day 0 on."""

    def expected(self, stratum: np.ndarray, day: np.ndarray) -> np.ndarray:
        """(r,) expected events up to the end of each day; beyond the last known day as on that day."""

    def last_day(self, stratum: np.ndarray) -> np.ndarray:
        """(r,) int64, the last day on which the hazard is known; -1 for a stratum the reference does not have."""


@dataclass(frozen=True, eq=False)
class StepHazard:
    """A hazard that jumps on days with events, stratum by stratum: no smoothing, no windows."""

    labels: np.ndarray  # (s,) int64, strata, rising
    last: np.ndarray  # (s,) int64, last day on which anybody of the stratum is followed
    place: np.ndarray  # (m,) int64, place of each jump's stratum among labels, rising
    day: np.ndarray  # (m,) int64, day of each jump, rising within a stratum
    cumulative: np.ndarray  # (m,) expected events up to the end of that day

    def expected(self, stratum: np.ndarray, day: np.ndarray) -> np.ndarray:
        """(r,) as `ReferenceHazard.expected`."""
        place, known = _places(self.labels, stratum)
        span = int(self.day.max(initial=0)) + 1
        jumps = np.searchsorted(self.place * span + self.day, place * span + np.minimum(day, span - 1), side="right")
        some = known & (day >= 0) & (jumps > np.searchsorted(self.place, place))
        return np.where(some, np.insert(self.cumulative, 0, 0)[jumps], 0)

    def last_day(self, stratum: np.ndarray) -> np.ndarray:
        """(r,) as `ReferenceHazard.last_day`."""
        place, known = _places(self.labels, stratum)
        return np.where(known, self.last[place], -1)


@dataclass(frozen=True, eq=False)
class RateHazard:
    """A hazard that stays the same within a window since implantation, stratum by stratum; as a table of rates."""

    labels: np.ndarray  # (s,) int64, strata, rising
    cuts: np.ndarray  # (w - 1,) int64, days on which windows end, rising; the last window has no end
    per_100_years: np.ndarray  # (s, w) events per 100 implant-years
    last: np.ndarray  # (s,) int64, the last day on which the rate is known

    def expected(self, stratum: np.ndarray, day: np.ndarray) -> np.ndarray:
        """(r,) as `ReferenceHazard.expected`."""
        place, known = _places(self.labels, stratum)
        until = np.minimum(day, self.last[place])
        days = np.stack(_by_window(self.cuts, until), axis=1)
        return np.where(known, (self.per_100_years[place] * days).sum(axis=1) / (100 * DAYS_PER_YEAR), 0)

    def last_day(self, stratum: np.ndarray) -> np.ndarray:
        """(r,) as `ReferenceHazard.last_day`."""
        place, known = _places(self.labels, stratum)
        return np.where(known, self.last[place], -1)


def hazard_of(counts: PatternCounts) -> StepHazard:
    """
    Take the hazard of everybody in each stratum: on each day, events over joints at risk.

    The expected events of all these joints add up to their events, whatever the units they are split into.

    Source:
        Nelson (1969), J Qual Technol 1:27-52; Aalen (1978), Ann Stat 6:701-726.

    >>> hazard = hazard_of(PatternCounts(1, [0, 0], [3, 9], [1, 0], [1, 3]))
    >>> hazard.expected(np.array([0, 0, 0]), np.array([2, 3, 9])).tolist()
    [0.0, 0.25, 0.25]
    """
    sets = risk_sets(counts)
    at_risk = sets.at_risk.in_cells(np.ones(counts.patterns))
    return _steps(counts, sets.cells.stratum, sets.cells.day, sets.cells.events / at_risk)


def model_hazard(fit: CoxFit) -> StepHazard:
    """
    Take the baseline hazard of a Cox model, of a joint at the centre of the model's columns.

    The expected events of other joints are `fit.hazards(design)` times it: the `relative` of `standardised_ratios`.
    Expected and observed events add up to the same only with Breslow's ties.
    """
    labels, centre = fit.counts.numbered_strata[0], np.exp(float(fit.scaled.centre @ fit.coef))
    curves = baseline_hazard(fit)
    place = [np.full(len(each.days), np.searchsorted(labels, each.stratum)) for each in curves]
    jumps = [np.diff(each.hazard, prepend=0) * centre for each in curves]
    return _steps(fit.counts, *(np.concatenate(parts) for parts in (place, [each.days for each in curves], jumps)))


def rates_of(counts: PatternCounts, cuts: Sequence[int] = ()) -> RateHazard:
    """
    Take the rate of everybody in each stratum and window since implantation: events over days at risk.

    A window in which nobody of a stratum is followed has no rate: there the stratum's hazard ends. As with
    `hazard_of`, expected events add up to events.

    Args:
        cuts: whole days, rising, from 1 up; a day on a cut belongs to the earlier window.
    """
    edges = _checked_cuts(cuts)
    labels, stratum = counts.numbered_strata
    shape, windows = (len(labels), len(edges) + 1), len(edges) + 1
    hit = counts.event > 0
    cell = stratum[counts.pattern[hit]] * windows + np.searchsorted(edges, counts.day[hit], side="left")
    events = np.bincount(cell, counts.weights[hit], len(labels) * windows).reshape(shape)
    days = _days_at_risk(counts, edges)
    rate = np.divide(events, days, out=np.zeros(shape), where=days > 0)
    ends = np.array([-1, *edges, _FOR_EVER])
    followed = np.cumprod(days > 0, axis=1).sum(axis=1)
    return RateHazard(labels, edges, rate * 100 * DAYS_PER_YEAR, ends[followed])


def published_rates(labels: Sequence[int], cuts: Sequence[int], per_100_years: np.ndarray) -> RateHazard:
    """
    Take rates from elsewhere.

    Args:
        labels: strata, rising.
        cuts: whole days, rising, from 1 up, on which all windows but the last end.
        per_100_years: (strata, windows) events per 100 implant-years.

    Raises:
        CountError: strata or cuts that do not rise, or not one rate for each stratum and window.
    """
    edges, strata = _checked_cuts(cuts), whole_numbers("strata", labels)
    rates = np.asarray(per_100_years, dtype=float)
    if np.any(np.diff(strata) <= 0) or rates.shape != (len(strata), len(edges) + 1):
        raise CountError(f"{len(strata)} rising strata and {len(edges) + 1} windows need as many rates.")
    amounts("rates", rates.reshape(-1))
    return RateHazard(strata, edges, rates, np.full(len(strata), _FOR_EVER))


def _steps(counts: PatternCounts, place: np.ndarray, day: np.ndarray, jumps: np.ndarray) -> StepHazard:
    labels, stratum = counts.numbered_strata
    last = np.full(len(labels), -1)
    followed = counts.weights > 0
    np.maximum.at(last, stratum[counts.pattern[followed]], counts.day[followed])
    cumulative = np.empty(len(jumps))
    edges = np.searchsorted(place, np.arange(len(labels) + 1))
    for first, end in pairwise(edges):
        np.cumsum(jumps[first:end], out=cumulative[first:end])
    return StepHazard(labels, last, place, day, cumulative)


def _days_at_risk(counts: PatternCounts, edges: np.ndarray) -> np.ndarray:
    """(strata, windows) days in follow-up of all joints of a stratum together."""
    labels, stratum = counts.numbered_strata
    place, day, joints = stratum[counts.pattern], counts.day, counts.weights
    if counts.entered is not None:
        place = np.concatenate([place, stratum[counts.entered.group]])
        day = np.concatenate([day, counts.entered.day])
        joints = np.concatenate([joints, -counts.entered.joints])
    return np.stack([np.bincount(place, days * joints, len(labels)) for days in _by_window(edges, day)], axis=1)


def _by_window(edges: np.ndarray, day: np.ndarray) -> list[np.ndarray]:
    """(r,) for each window, how much of it has passed by the end of each day."""
    starts, widths = np.insert(edges, 0, 0), [*np.diff(edges, prepend=0), None]
    return [np.clip(day - start, 0, width) for start, width in zip(starts, widths, strict=True)]


def _checked_cuts(cuts: Sequence[int]) -> np.ndarray:
    edges = whole_numbers("cuts", np.asarray(cuts, dtype=float))
    if np.any(np.diff(edges, prepend=0) <= 0):
        raise CountError(f"Windows are cut after whole days that rise, from day 1 up, not after {list(cuts)}.")
    return edges


def _places(labels: np.ndarray, stratum: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """(r,) place of each stratum among the labels, and whether it is there."""
    place = np.minimum(np.searchsorted(labels, stratum), len(labels) - 1)
    return place, labels[place] == stratum
