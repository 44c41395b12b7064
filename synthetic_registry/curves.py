"""
The truth that estimates are held against: for each class or stratum of it, the risk that a net estimate
on these very joints tends to, and the joints' mean net risk.
"""

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from synthetic_registry.hazards import ClassHazards
from synthetic_registry.joints import Joints
from synthetic_registry.leaving import Leaving
from synthetic_registry.parameters import DAYS_A_YEAR

STEP = 56  # days between those at which the joints are counted; between them the hazard is interpolated


@dataclass(frozen=True)
class TrueCurve:
    """Risks by the end of each day since implantation, proportions; entry d is day d."""

    stratum: dict[str, str]
    joints: int
    expected_at_risk: np.ndarray  # at the start of each day
    limit_risk: np.ndarray  # what the estimator tends to: expected revisions over expected at risk, day by day
    mean_risk: np.ndarray  # 1 - the mean of the joints' own net survival

    def at(self, years: float) -> tuple[float, float]:
        """
        Both risks at whole days in so many years; nan after the last day on which a joint can be followed.
        """
        day = int(years * DAYS_A_YEAR)
        inside = day < len(self.limit_risk)
        return (float(self.limit_risk[day]), float(self.mean_risk[day])) if inside else (np.nan, np.nan)


def true_curves(
    joints: Joints,
    classes: list[ClassHazards],
    leave: Leaving,
    groupings: Sequence[Sequence[str]] = ((),),
    step: int = STEP,
) -> list[TrueCurve]:
    """
    Work out the true curves of each class, split by further covariates if wished.

    Every joint has a known hazard of revision (constant in each interval), of death and of loss, and a known
    last day. So the number expected at risk on a day is the sum of the joints' probabilities to be there, the
    number of revisions the sum of those times each joint's own chance on that day.

    Args:
        groupings: each of them splits the classes once, by covariates of `Joints.covariate`: ((), ("age_band",)).
        step: days between those that are counted in full; 1 counts every day.
    """
    names = list(dict.fromkeys(name for grouping in groupings for name in grouping))
    sums = [_class_sums(joints, hazard, leave, names, step) for hazard in classes if _registered(joints, hazard).size]
    return [curve for grouping in groupings for each in sums for curve in _of_strata(each, grouping)]


@dataclass(frozen=True)
class _Sums:
    """Sums over the joints of one class in every cell of some covariates; the last axis is the cell."""

    class_name: str
    covariates: dict[str, tuple[str, ...]]  # with their words
    joints: np.ndarray  # (cells,)
    days: np.ndarray
    at_risk: np.ndarray  # (days, cells) expected at the start of each day
    revised: np.ndarray  # (days, cells) expected on each day
    net_days: np.ndarray
    net: np.ndarray  # (net days, cells) sum of the joints' own net survival past each of these days

    def added_up(self, values: np.ndarray, kept: Sequence[str]) -> np.ndarray:
        """Add up over the covariates that are not kept; the cells of those kept remain, in their order."""
        shape = [len(listed) for listed in self.covariates.values()]
        table = values.reshape((*values.shape[:-1], *shape))
        ahead = values.ndim - 1
        gone = tuple(ahead + place for place, name in enumerate(self.covariates) if name not in kept)
        return table.sum(axis=gone).reshape((*values.shape[:-1], -1))


def _registered(joints: Joints, hazard: ClassHazards) -> np.ndarray:
    return np.flatnonzero(hazard.at < joints.primaries.registered)


def _class_sums(joints: Joints, hazard: ClassHazards, leave: Leaving, names: Sequence[str], step: int) -> _Sums:
    ours = _registered(joints, hazard)
    ours = ours[np.argsort(-leave.admin_day[hazard.at[ours]], kind="stable")]
    cell, covariates = np.zeros(len(ours), np.int64), {}
    for name in names:
        codes, listed = joints.covariate(name)
        cell = cell * len(listed) + codes[hazard.at[ours]]
        covariates[name] = listed
    cells = math.prod(len(listed) for listed in covariates.values())
    days = _counted_days(hazard.starts, int(leave.admin_day[hazard.at[ours[0]]]), step)
    counts = _Counts(hazard, leave, ours, cell, cells)
    at_risk, revised = counts.followed(days)
    net_days = np.unique(np.append(days[::3], [*hazard.starts[hazard.starts <= days[-1]], days[-1]]))
    return _Sums(
        class_name=hazard.kind.name,
        covariates=covariates,
        joints=np.bincount(cell, minlength=cells),
        days=days,
        at_risk=at_risk,
        revised=revised,
        net_days=net_days,
        net=counts.surviving(net_days + 1),
    )


def _of_strata(sums: _Sums, kept: Sequence[str]) -> list[TrueCurve]:
    joints, at_risk, revised, net = (
        sums.added_up(values, kept) for values in (sums.joints, sums.at_risk, sums.revised, sums.net)
    )
    in_order = [name for name in sums.covariates if name in kept]
    strata = itertools.product(*(sums.covariates[name] for name in in_order))
    return [
        TrueCurve(
            stratum={"class": sums.class_name, **dict(zip(in_order, words))},
            joints=int(joints[cell]),
            **_followed_daily(sums.days, at_risk[:, cell], revised[:, cell]),
            mean_risk=_mean_daily(sums.net_days, net[:, cell] / joints[cell]),
        )
        for cell, words in enumerate(strata)
        if joints[cell]
    ]


def _counted_days(starts: np.ndarray, last: int, step: int) -> np.ndarray:
    """Choose the days to count in full: every `step` days, and both ends of every interval."""
    ends = np.append(starts[1:] - 1, last)
    days = np.concatenate([np.append(np.arange(start, end, step), end) for start, end in zip(starts, ends)])
    return np.unique(days[days <= last]).astype(np.int64)


class _Counts:
    """Sums over the joints of one class, stratum by stratum; joints come with the longest follow-up first."""

    def __init__(self, hazard: ClassHazards, leave: Leaving, ours: np.ndarray, cell: np.ndarray, strata: int) -> None:
        self.starts, self.cell, self.strata = hazard.starts, cell, strata
        self.leave = leave.of(hazard.at[ours])
        self.rate = hazard.rate[:, ours]
        self.chance = -np.expm1(-self.rate)  # of a revision on any one day of the interval
        self.before = hazard.before()[:, ours]

    def followed(self, days: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Expected number at risk at the start of each day, and of revisions on it; (days, strata) each."""
        at_risk, revised = np.zeros((len(days), self.strata)), np.zeros((len(days), self.strata))
        numbers = np.searchsorted(-self.leave.admin_day, -days, side="right")
        intervals = np.searchsorted(self.starts, days, side="right") - 1
        for row, (day, count, k) in enumerate(zip(days.tolist(), numbers.tolist(), intervals.tolist())):
            there = self._net(day, k, count, self.leave.integral(day, count))
            at_risk[row] = self._sums(there)
            revised[row] = self._sums(np.multiply(there, self.chance[k, :count], out=there))
        return at_risk, revised

    def surviving(self, days: np.ndarray) -> np.ndarray:
        """Sum of the joints' own net survival at the start of each day; (days, strata)."""
        intervals = np.maximum(np.searchsorted(self.starts, days, side="left") - 1, 0)
        count = len(self.cell)
        return np.array([self._sums(self._net(day, k, count, 0.0)) for day, k in zip(days.tolist(), intervals)])

    def _net(self, day: int, k: int, count: int, leaving: np.ndarray | float) -> np.ndarray:
        """Probability of each of the first joints to be unrevised, and not to have left by those hazards."""
        total = self.rate[k, :count] * (day - self.starts[k])
        total += self.before[k, :count]
        total += leaving
        return np.exp(np.negative(total, out=total), out=total)

    def _sums(self, values: np.ndarray) -> np.ndarray:
        """Add up by stratum; (strata,)."""
        if self.strata == 1:
            return values.sum(keepdims=True)
        return np.bincount(self.cell[: len(values)], weights=values, minlength=self.strata)


def _followed_daily(days: np.ndarray, at_risk: np.ndarray, revised: np.ndarray) -> dict[str, np.ndarray]:
    """
    Fill in the days between the counted ones, and multiply the daily chances up.

    Hazards jump at the start of an interval, and both its ends are counted: no line crosses a jump.
    """
    there = at_risk > 0
    every = np.arange(int(days[there][-1]) + 1)
    chance = np.interp(every, days[there], revised[there] / at_risk[there])
    return {
        "expected_at_risk": np.interp(every, days[there], at_risk[there]),
        "limit_risk": 1 - np.cumprod(1 - chance),
    }


def _mean_daily(days: np.ndarray, net: np.ndarray) -> np.ndarray:
    """Fill in the days between, on the scale on which a constant hazard is a straight line."""
    every = np.arange(int(days[-1]) + 1)
    return -np.expm1(np.interp(every, np.append(-1, days), np.append(0.0, np.log(net))))
