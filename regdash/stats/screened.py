"""Many units at once: each implant's hazard ratio against all others of its stratum, by one coefficient each."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from regdash.errors import CountError, ModelError
from regdash.stats.counts import whole_numbers
from regdash.stats.cox import HazardRatio, wald_ratio
from regdash.stats.cox_counts import PatternCounts
from regdash.stats.partial_likelihood import Terms, Ties
from regdash.stats.products import product
from regdash.stats.risk_sets import RiskSets, risk_sets
from regdash.stats.stated_ratio import checked_ratio, events_p_above

_BLOCK = 2**19  # shares of risk sets, units × denominators, held at one time
_STEP, _MOST = 1e-10, 60
_SAMPLE = 1000  # denominators that a first look takes
_ROUNDING = 1e-9  # a share that should be 1 may fall short of it by this much


@dataclass(frozen=True)
class ScreenedRatio:
    """One unit against all others of its strata."""

    joints: int
    events: int
    expected: float  # events at the hazard of everybody in its strata, itself included, day by day
    ratio: HazardRatio
    due: float | None  # events at the hazard of all others: events over this are the ratio; None where it has no top
    p_higher: float  # one-sided: so many events or more, were the ratio the stated one


def screened_hazard_ratios(
    counts: PatternCounts,
    unit: np.ndarray,
    names: Sequence[str],
    ties: Ties = "efron",
    level: float = 0.95,
    stated: float = 1.0,
) -> tuple[ScreenedRatio, ...]:
    """
    Estimate, for every unit, its hazard ratio against all others, each stratum with a baseline of its own.

    Each is what `cox` gives for a model with one column that is 1 for the unit's joints, and the same strata.

    Args:
        counts: joints by pattern, day and event; a pattern is a unit within a stratum.
        unit: (patterns,) int, the unit of each pattern.
        names: of the units.
        level: of the two-sided Wald limits.
        stated: the ratio that `p_higher` tests against; it needs no top of the likelihood, see `events_p_above`.

    Returns:
        One a unit, in the order of names. A ratio is None where its likelihood has no top, and its note says why.

    Raises:
        CountError: not one unit a pattern, or a unit without a name.
        ModelError: no events.
        ValueError: a level or a stated ratio that is none.

    >>> counts = PatternCounts(2, [0, 1, 0, 1], [1, 1, 9, 9], [1, 1, 0, 0], [1, 3, 4, 2])  # of 5 and 5, 1 and 3
    >>> [round(one.ratio.ratio, 6) for one in screened_hazard_ratios(counts, [0, 1], ["A", "B"], "breslow")]
    [0.333333, 3.0]
    """
    checked_ratio(stated)
    unit = whole_numbers("units", unit)
    if len(unit) != counts.patterns or np.any(unit >= len(names)):
        raise CountError(f"Each of {counts.patterns:,} patterns needs a unit from 0 to {len(names) - 1}.")
    if not counts.events:
        raise ModelError(f"None of {int(counts.weights.sum()):,} joints has the event: there is no ratio to estimate.")
    joints = np.bincount(unit, counts.by_pattern(), len(names)).astype(int).tolist()
    events = np.bincount(unit, counts.events_by_pattern(), len(names)).astype(int)
    found: list[ScreenedRatio] = []
    for first, shares, expected in _blocks(risk_sets(counts), unit, len(names), ties):
        block = slice(first, first + len(shares.of))
        found += shares.ratios(events[block], joints[block], expected, names[block], level, stated)
    return tuple(found)


@dataclass(frozen=True, eq=False)
class Shares:
    """Each unit's share of every denominator of the likelihood."""

    of: np.ndarray  # (units, q) 0 to 1; 0 also where a denominator is none of the unit's
    times: np.ndarray  # (q,) how often each denominator counts

    @cached_property
    def trials(self) -> np.ndarray:
        """(units,) denominators that each has a share of, as often as they count."""
        if np.all(self.times == 1):
            return np.count_nonzero(self.of, axis=1).astype(float)
        return product((self.of > 0).astype(float), self.times)

    def ratios(
        self,
        events: np.ndarray,
        joints: Sequence[int],
        expected: np.ndarray,
        names: Sequence[str],
        level: float,
        stated: float,
    ) -> list[ScreenedRatio]:
        """Solve for the units' ratios, given (units,) their events."""
        log_ratio, se, notes = _solved(self, events)
        ratios = [_ratio(*row, level) for row in zip(names, log_ratio, se, notes, strict=True)]
        due, p_higher = _due(self, events, log_ratio, ratios), _p_higher(self, events, stated)
        rows = zip(joints, events.tolist(), expected.tolist(), ratios, due, p_higher, strict=True)
        return [ScreenedRatio(*row) for row in rows]


def _blocks(sets: RiskSets, unit: np.ndarray, units: int, ties: Ties) -> Iterator[tuple[int, Shares, np.ndarray]]:
    """Give some units at a time: the first one's number, their shares, and their expected events."""
    cells, terms = sets.cells, Terms.of(sets.cells.events, ties)
    everybody = np.ones(len(unit))
    at_risk, tied = sets.at_risk.in_cells(everybody), sets.events.in_cells(everybody)
    denominator = at_risk[terms.cell] - terms.share * tied[terms.cell]
    rows = ByUnit.by_unit(unit[sets.rows.pattern], units, sets.rows.place, sets.rows.joints)
    tied_joints = _tied(sets, unit, units, terms)
    step = max(1, _BLOCK // max(len(terms.cell), 1))
    for first in range(0, units, step):
        size = min(step, units - first)
        own = cells.remaining_by_row(rows.summed(first, size, cells.places))
        expected = product(own, cells.events / at_risk)
        shares = own[:, terms.cell]
        of, term, joints = tied_joints.of(first, size)
        np.subtract.at(shares, (of, term), terms.share[term] * joints)
        shares /= denominator
        yield first, Shares(shares, terms.times), expected


@dataclass(frozen=True, eq=False)
class ByUnit:
    """Joints in order of their units."""

    starts: np.ndarray  # (units + 1,) first row of each unit
    unit: np.ndarray  # (r,)
    place: np.ndarray  # (r,)
    joints: np.ndarray | None  # (r,); None: 1 each

    @classmethod
    def by_unit(cls, unit: np.ndarray, units: int, place: np.ndarray, joints: np.ndarray | None) -> "ByUnit":
        small = unit.astype(np.uint16) if units < 2**16 else unit  # numbers of 16 bits are sorted digit by digit
        order = np.argsort(small, kind="stable")
        starts = np.insert(np.cumsum(np.bincount(unit, minlength=units)), 0, 0)
        return cls(starts, unit[order], place[order], None if joints is None else joints[order])

    def summed(self, first: int, size: int, places: int) -> np.ndarray:
        """(size, places) joints of some units by place."""
        unit, place, joints = self.of(first, size)
        return np.bincount(unit * places + place, joints, size * places).reshape(size, places)

    def of(self, first: int, size: int) -> tuple[np.ndarray, np.ndarray, np.ndarray | None]:
        """Their rows; their units counted from the first."""
        rows = slice(self.starts[first], self.starts[first + size])
        return self.unit[rows] - first, self.place[rows], None if self.joints is None else self.joints[rows]


def _tied(sets: RiskSets, unit: np.ndarray, units: int, terms: Terms) -> ByUnit:
    """The joints with the event, once for each denominator of their cell that has less of them than all."""
    having = sets.events
    more = np.diff(terms.starts, append=len(terms.cell))[having.cell] - 1
    row = np.repeat(np.arange(len(having.cell)), more)
    term = terms.starts[having.cell[row]] + 1 + np.arange(len(row)) - np.repeat(np.cumsum(more) - more, more)
    return ByUnit.by_unit(unit[having.pattern[row]], units, term, having.joints[row])


def _solved(shares: Shares, events: np.ndarray) -> tuple[np.ndarray, np.ndarray, list[str | None]]:
    """Find each unit's log ratio and its standard error, and say where there is none."""
    notes = _notes(shares, events)
    open_ = np.flatnonzero([note is None for note in notes])
    log_ratio, se = np.zeros(len(events)), np.zeros(len(events))
    if len(open_):
        shares = shares if len(open_) == len(events) else Shares(shares.of[open_], shares.times)
        log_ratio[open_], se[open_], lost = _newton(shares, events[open_])
        for number in open_[lost].tolist():
            notes[number] = "its events and others' are all but separated: its hazard ratio could not be found"
    return log_ratio, se, notes


def _due(shares: Shares, events: np.ndarray, log_ratio: np.ndarray, ratios: list[HazardRatio]) -> list[float | None]:
    """Events at the hazard of all others, which is estimated beside the unit's own ratio, 0 where it has no events."""
    none = np.flatnonzero(events == 0)
    others = 1 - shares.of[none]
    odds = np.divide(shares.of[none], others, out=np.zeros_like(others), where=others > _ROUNDING)
    of_none = dict(zip(none.tolist(), product(odds, shares.times).tolist(), strict=True))
    seen = zip(events.tolist(), log_ratio.tolist(), ratios, strict=True)
    by_ratio = [None if one.ratio is None else count * float(np.exp(-at)) for count, at, one in seen]
    return [of_none.get(place, due) for place, due in enumerate(by_ratio)]


def _p_higher(shares: Shares, events: np.ndarray, stated: float) -> list[float]:
    chance = shares.of * (stated - 1)
    chance += 1
    np.divide(shares.of, chance, out=chance)
    expected = stated * product(chance, shares.times)
    return events_p_above(events, np.minimum(expected, shares.trials), shares.trials).tolist()


def _notes(shares: Shares, events: np.ndarray) -> list[str | None]:
    """Say of each unit why its likelihood has no top, if it has none."""
    sees_alone = shares.of.max(axis=1, initial=0) > 1 - _ROUNDING  # tied shares are sums of thirds and the like
    all_events = (events >= shares.trials) & (events >= np.count_nonzero(shares.of, axis=1))
    only_alone = np.zeros(len(events), dtype=bool)
    for place in np.flatnonzero(sees_alone).tolist():
        only_alone[place] = events[place] <= shares.times[shares.of[place] > 1 - _ROUNDING].sum()
    told = zip(shares.trials.tolist(), events.tolist(), all_events.tolist(), only_alone.tolist(), strict=True)
    return [_note(*each) for each in told]


def _note(trials: float, events: int, all_events: bool, only_alone: bool) -> str | None:
    if not trials:
        return "none of its joints is in follow-up on a day with an event"
    if events == 0:
        return "no events: its hazard ratio has no lower end"
    if all_events and only_alone:
        return "no other joint of its strata is in follow-up on a day with an event"
    if all_events:
        return "all others have no events while it is in follow-up: its hazard ratio has no upper end"
    if only_alone:
        return "its events fell where no other joint was in follow-up: its hazard ratio has no lower end"
    return None


def _newton(shares: Shares, events: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """
    Solve, for each unit, events = sum of r x / (1 + (r - 1) x) over its shares x, r being its hazard ratio.

    The left side less the right falls steadily in log r, so that its sign says on which side the solution lies.
    Gives log r, its standard error, and the units for which no end was found.
    """
    at = np.log(events / product(shares.of, shares.times))
    every = len(shares.times) // _SAMPLE
    if every > 1:  # a first look at some of the denominators ends near the solution
        few = np.ascontiguousarray(shares.of[:, every // 2 :: every])
        times = shares.times[every // 2 :: every] * (shares.times.sum() / shares.times[every // 2 :: every].sum())
        for _ in range(4):
            at = at + _step(few, times, events, at)[0]
    low, high, error = np.full(len(at), -np.inf), np.full(len(at), np.inf), np.empty(len(at))
    moving = np.arange(len(at))
    for _ in range(_MOST):
        of = shares.of if len(moving) == len(at) else shares.of[moving]
        step, information = _step(of, shares.times, events[moving], at[moving])
        error[moving] = 1 / np.sqrt(information)
        low[moving[step > 0]], high[moving[step < 0]] = at[moving[step > 0]], at[moving[step < 0]]
        further = np.abs(step) >= _STEP
        moving, goal = moving[further], (at[moving] + step)[further]
        if not len(moving):
            break
        outside = (goal <= low[moving]) | (goal >= high[moving])
        at[moving] = np.where(outside, (low[moving] + high[moving]) / 2, goal)
    return at, error, moving


def _step(of: np.ndarray, times: np.ndarray, events: np.ndarray, at: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """(units,) Newton step of the log ratio, no longer than 2, and the information."""
    ratio = np.exp(at)[:, None]
    chance = of * (ratio - 1)
    chance += 1
    np.divide(of, chance, out=chance)
    chance *= ratio
    expected = product(chance, times)
    information = np.maximum(expected - product(np.square(chance, out=chance), times), 1e-300)
    return np.clip((events - expected) / information, -2, 2), information


def _ratio(name: str, log_ratio: float, se: float, note: str | None, level: float) -> HazardRatio:
    if note is not None:
        return HazardRatio(name, None, None, None, None, None, note)
    return wald_ratio(name, float(log_ratio), float(se), level)
