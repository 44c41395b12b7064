"""Hazard ratios of many units, one coefficient each, from the share that each has of every denominator."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from regdash.stats.cox import HazardRatio, wald_ratio
from regdash.stats.products import product
from regdash.stats.stated_ratio import events_p_above

BLOCK = 2**17  # shares, units × denominators, held at one time: few enough to stay near the processor
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


@dataclass(frozen=True, eq=False)
class Shares:
    """Each unit's share of every denominator of the likelihood."""

    of: np.ndarray  # (units, q) 0 to 1; 0 also where a denominator is none of the unit's
    times: np.ndarray | None  # (q,) how often each denominator counts; None: once each

    @cached_property
    def trials(self) -> np.ndarray:
        """(units,) denominators that each has a share of, as often as they count."""
        if self.times is None:
            return np.count_nonzero(self.of, axis=1).astype(float)
        return product((self.of > 0).astype(float), self.times)

    def only(self, which: np.ndarray) -> "Shares":
        """Those of some units, (units,) bool or their numbers."""
        return Shares(self.of[which], self.times)

    def summed(self, values: np.ndarray) -> np.ndarray:
        """(units,) sums of values over the denominators, (units, q), as often as they count."""
        return values.sum(axis=1) if self.times is None else product(values, self.times)

    def at(self, stated: float) -> tuple[np.ndarray, np.ndarray]:
        """(units,) events that would be expected of each, were its ratio the stated one; and (units,) trials."""
        if stated == 1:
            expected = self.summed(self.of)
        else:
            chance = self.of * (stated - 1)
            chance += 1
            expected = stated * self.summed(np.divide(self.of, chance, out=chance))
        return np.minimum(expected, self.trials), self.trials

    def solved(
        self, events: np.ndarray, names: Sequence[str], level: float
    ) -> tuple[list[HazardRatio], list[float | None]]:
        """Solve for the units' ratios, given (units,) their events; and find the events due at others' hazard."""
        log_ratio, se, notes = _solved(self, events)
        ratios = [_ratio(*row, level) for row in zip(names, log_ratio, se, notes, strict=True)]
        return ratios, _due(self, events, log_ratio, ratios)


@dataclass(frozen=True, eq=False)
class Block:
    """Some units, one after the other, in each window."""

    first: int
    shares: tuple[Shares, ...]  # a window
    expected: np.ndarray  # (units, windows) events at the hazard of everybody


@dataclass(frozen=True, eq=False)
class Counted:
    """What units have in each window."""

    joints: np.ndarray  # (units, windows) int64, in follow-up in the window
    events: np.ndarray  # (units, windows) int64
    others_have: np.ndarray  # (windows,) bool: those compared with have an event


def window_ratios(
    blocks: Iterable[Block], counted: Counted, tested: np.ndarray, names: Sequence[str], level: float, stated: float
) -> list[list[ScreenedRatio | None]]:
    """
    Solve for the ratios of all units that are tested.

    Args:
        tested: (windows, units) bool.
        names: of the units.
        level: of the two-sided Wald limits.
        stated: the ratio that `p_higher` tests against.

    Returns:
        For each window one a unit; None where it is not tested, or nobody has the event in the window.
    """
    found: list[list[ScreenedRatio | None]] = [[None] * len(names) for _ in tested]
    tests = _Tests(tested.shape, counted)
    told: list[tuple[int, int, HazardRatio, float | None, float]] = []
    for block, window, which, shares in _asked(blocks, counted, tested):
        own = which + block.first
        tests.take(window, own, shares.at(stated))
        ratios, due = shares.solved(counted.events[own, window], [names[number] for number in own.tolist()], level)
        expected = block.expected[which, window].tolist()
        told += zip([window] * len(own), own.tolist(), ratios, due, expected, strict=True)
    p = tests.p_higher()
    for window, number, ratio, due_of, expected_of in told:
        joints, events = int(counted.joints[number, window]), int(counted.events[number, window])
        p_higher = float(p[window, number])
        found[window][number] = ScreenedRatio(joints, events, expected_of, ratio, due_of, p_higher)
    return found


def window_p(blocks: Iterable[Block], counted: Counted, tested: np.ndarray, stated: float) -> np.ndarray:
    """(windows, units) `p_higher` alone, for what needs no ratio; NaN where `window_ratios` has None."""
    tests = _Tests(tested.shape, counted)
    for block, window, which, shares in _asked(blocks, counted, tested):
        tests.take(window, which + block.first, shares.at(stated))
    return tests.p_higher()


class _Tests:
    """What each test rests on; the tails of all are found at once."""

    def __init__(self, shape: tuple[int, ...], counted: Counted) -> None:
        self._expected, self._trials = np.full(shape, np.nan), np.zeros(shape)
        self._events = counted.events.T

    def take(self, window: int, units: np.ndarray, at: tuple[np.ndarray, np.ndarray]) -> None:
        """Keep what some units have in one window."""
        self._expected[window, units], self._trials[window, units] = at

    def p_higher(self) -> np.ndarray:
        """(windows, units) `events_p_above`; NaN where nothing was kept."""
        there = np.logical_not(np.isnan(self._expected))
        found = np.full(there.shape, np.nan)
        found[there] = events_p_above(self._events[there], self._expected[there], self._trials[there])
        return found


def _asked(
    blocks: Iterable[Block], counted: Counted, tested: np.ndarray
) -> Iterator[tuple[Block, int, np.ndarray, Shares]]:
    """Give the units of each block that are tested, window by window, and their shares."""
    for block in blocks:
        size = len(block.expected)
        for window, shares in enumerate(block.shares):
            which = np.flatnonzero(tested[window, block.first : block.first + size])
            if len(which) and counted.others_have[window]:
                yield block, window, which, shares if len(which) == size else shares.only(which)


def _solved(shares: Shares, events: np.ndarray) -> tuple[np.ndarray, np.ndarray, list[str | None]]:
    """Find each unit's log ratio and its standard error, and say where there is none."""
    notes = _notes(shares, events)
    open_ = np.flatnonzero([note is None for note in notes])
    log_ratio, se = np.zeros(len(events)), np.zeros(len(events))
    if len(open_):
        shares = shares if len(open_) == len(events) else shares.only(open_)
        log_ratio[open_], se[open_], lost = _newton(shares, events[open_])
        for number in open_[lost].tolist():
            notes[number] = "its events and others' are all but separated: its hazard ratio could not be found"
    return log_ratio, se, notes


def _due(shares: Shares, events: np.ndarray, log_ratio: np.ndarray, ratios: list[HazardRatio]) -> list[float | None]:
    """Events at the hazard of all others, which is estimated beside the unit's own ratio, 0 where it has no events."""
    none = np.flatnonzero(events == 0)
    by_ratio = [
        None if one.ratio is None else count * float(np.exp(-at))
        for count, at, one in zip(events.tolist(), log_ratio.tolist(), ratios, strict=True)
    ]
    if not len(none):
        return by_ratio
    few = shares.only(none)
    others = 1 - few.of
    odds = np.divide(few.of, others, out=np.zeros_like(others), where=others > _ROUNDING)
    of_none = dict(zip(none.tolist(), few.summed(odds).tolist(), strict=True))
    return [of_none.get(place, due) for place, due in enumerate(by_ratio)]


def _notes(shares: Shares, events: np.ndarray) -> list[str | None]:
    """Say of each unit why its likelihood has no top, if it has none."""
    trials = shares.trials
    sees_alone = shares.of.max(axis=1, initial=0) > 1 - _ROUNDING  # tied shares are sums of thirds and the like
    several = trials if shares.times is None else np.count_nonzero(shares.of, axis=1)
    all_events = (events >= trials) & (events >= several)
    only_alone = np.zeros(len(events), dtype=bool)
    for place in np.flatnonzero(sees_alone).tolist():
        alone = shares.of[place] > 1 - _ROUNDING
        only_alone[place] = events[place] <= (alone.sum() if shares.times is None else shares.times[alone].sum())
    told = zip(trials.tolist(), events.tolist(), all_events.tolist(), only_alone.tolist(), strict=True)
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
    at = np.log(events / shares.summed(shares.of))
    every = shares.of.shape[1] // _SAMPLE
    if every > 1:  # a first look at some of the denominators ends near the solution
        few = _sampled(shares, every)
        for _ in range(4):
            at = at + _step(few, events, at)[0]
    low, high, error = np.full(len(at), -np.inf), np.full(len(at), np.inf), np.empty(len(at))
    moving = np.arange(len(at))
    for _ in range(_MOST):
        own = shares if len(moving) == len(at) else shares.only(moving)
        step, information = _step(own, events[moving], at[moving])
        error[moving] = 1 / np.sqrt(information)
        low[moving[step > 0]], high[moving[step < 0]] = at[moving[step > 0]], at[moving[step < 0]]
        further = np.abs(step) >= _STEP
        moving, goal = moving[further], (at[moving] + step)[further]
        if not len(moving):
            break
        outside = (goal <= low[moving]) | (goal >= high[moving])
        at[moving] = np.where(outside, (low[moving] + high[moving]) / 2, goal)
    return at, error, moving


def _sampled(shares: Shares, every: int) -> Shares:
    few = np.ascontiguousarray(shares.of[:, every // 2 :: every])
    if shares.times is None:
        return Shares(few, np.full(few.shape[1], shares.of.shape[1] / few.shape[1]))
    times = shares.times[every // 2 :: every]
    return Shares(few, times * (shares.times.sum() / times.sum()))


def _step(shares: Shares, events: np.ndarray, at: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """(units,) Newton step of the log ratio, no longer than 2, and the information."""
    ratio = np.exp(at)
    part = shares.of * (ratio - 1)[:, None]
    part += 1
    np.divide(shares.of, part, out=part)
    expected = ratio * shares.summed(part)
    squares = np.einsum("ij,ij->i", part, part) if shares.times is None else product(part * part, shares.times)
    information = np.maximum(expected - ratio**2 * squares, 1e-300)
    return np.clip((events - expected) / information, -2, 2), information


def _ratio(name: str, log_ratio: float, se: float, note: str | None, level: float) -> HazardRatio:
    if note is not None:
        return HazardRatio(name, None, None, None, None, None, note)
    return wald_ratio(name, float(log_ratio), float(se), level)
