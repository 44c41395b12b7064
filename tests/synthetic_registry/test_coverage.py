"""
Do the 95 % limits hold the truth in 95 % of registers? Only a register whose truth is known can tell.

Two truths are asked for. (a) The estimator's own limit: expected revisions over expected at risk, day by
day, for these very joints. (b) The mean net risk of the joints. They differ where revision and leaving
follow-up depend on each other, as through age and year of operation; within age bands and eras they agree.

Tolerance: a count of hits among n is accepted within the central 99.9 % of the binomial distribution with
share 0.95, shared out among all shares looked at together. Only points with at least 10 revisions and 40
joints at risk expected are looked at; expected, not seen, so that the choice itself favours nothing.
A share a little over 0.95 is to be expected: limits allow for joints drawn at random, and these are given.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np
import pytest
from scipy.special import bdtr

from regdash.stats.events import EventTable
from regdash.stats.kaplan_meier import kaplan_meier
from regdash.stats.limits import RiskAt
from regdash.stats.years import days_in
from regdash.vocabulary import ENDINGS
from synthetic_registry import Register, simulate
from synthetic_registry.curves import TrueCurve

YEARS = (1, 5, 10, 15)
OUTCOME_OF = np.array([{"revised": 2, "died": 1}.get(ending, 0) for ending in ENDINGS])


@dataclass(frozen=True)
class Look:
    """One risk with its limits, beside both truths."""

    stratum: tuple[str, ...]
    years: int
    point: RiskAt
    limit_risk: float  # (a)
    mean_risk: float  # (b)

    def holds(self, truth: float) -> bool:
        assert self.point.lower is not None
        assert self.point.upper is not None
        return self.point.lower <= truth <= self.point.upper


def looks(register: Register, curves: list[TrueCurve], days: np.ndarray, ended: np.ndarray) -> Iterator[Look]:
    """Estimate the risk in each curve's stratum and set it beside the curve."""
    names = tuple(curves[0].stratum)
    strata = [tuple(curve.stratum[name] for name in names) for curve in curves]
    table = counted(register, names, strata, days, ended)
    for number, (stratum, curve) in enumerate(zip(strata, curves, strict=True)):
        counts = table.of(number)
        assert counts.joints == curve.joints
        years = [year for year in YEARS if enough_expected(curve, days_in(year))]
        points = kaplan_meier(counts.days, counts.revised, counts.left).at([days_in(year) for year in years])
        for year, point in zip(years, points, strict=True):
            yield Look(stratum, year, point, *curve.at(year))


def counted(
    register: Register, names: tuple[str, ...], strata: list[tuple[str, ...]], days: np.ndarray, ended: np.ndarray
) -> EventTable:
    """Count joints by stratum, day and outcome; one row a joint."""
    columns = [register.covariate(name) for name in names]
    sizes = [len(words) for _, words in columns]
    cell = np.ravel_multi_index([codes.astype(np.int64) for codes, _ in columns], sizes)
    number = np.full(int(np.prod(sizes)), len(strata))
    for place, stratum in enumerate(strata):
        at = [words.index(word) for word, (_, words) in zip(stratum, columns, strict=True)]
        number[np.ravel_multi_index(at, sizes)] = place
    labels = ("censored", "died", "revised")
    return EventTable(tuple(strata), labels, number[cell], days, OUTCOME_OF[ended], np.ones(len(days), int))


def enough_expected(curve: TrueCurve, day: int) -> bool:
    if day >= len(curve.limit_risk) or curve.expected_at_risk[day] < 40:
        return False
    free = 1 - np.insert(curve.limit_risk[: day + 1], 0, 0)
    return float(np.sum(curve.expected_at_risk[: day + 1] * (1 - free[1:] / free[:-1]))) >= 10


def check_nominal(seen: Iterable[Look], truth: str, least: int) -> dict[tuple[str, ...], float]:
    """Hold the hits of each stratum and time against the binomial distribution; (stratum, years) -> share."""
    hits = defaultdict(list)
    for look in seen:
        hits[(*look.stratum, f"{look.years} years")].append(look.holds(getattr(look, truth)))
    asked = {key: found for key, found in hits.items() if len(found) >= least}
    tail = 0.0005 / len(asked)
    outside = {
        key: (sum(found), len(found))
        for key, found in asked.items()
        if bdtr(sum(found), len(found), 0.95) < tail or bdtr(len(found) - sum(found), len(found), 0.05) < tail
    }
    assert outside == {}
    return {key: sum(found) / len(found) for key, found in asked.items()}


@pytest.mark.slow  # many lives
def test_limits_hold_the_estimators_own_limit_when_the_same_joints_live_again() -> None:
    """400 lives of one register's joints: what varies is chance alone."""
    register = simulate(14_000, seed=1)
    curves, registered = register.curves(), len(register.days)
    seen = []
    for number in range(400):
        lives = register.lived_again(number)
        seen += looks(register, curves, lives.days[:registered], lives.ended[:registered])
    shares = check_nominal(seen, "limit_risk", least=400)
    assert len(shares) == 8  # both classes at all four times
    assert 0.93 < np.mean(list(shares.values())) < 0.98


@pytest.mark.slow
def test_limits_hold_the_estimators_own_limit_in_register_after_register() -> None:
    """200 registers, each with its own joints, hospitals, surgeons and implants."""
    seen = [look for seed in range(200) for look in whole_classes(simulate(8_000, seed))]
    shares = check_nominal(seen, "limit_risk", least=150)
    assert {key[0] for key in shares} == {"total", "partial"}
    assert len(shares) >= 7
    assert 0.93 < np.mean(list(shares.values())) < 0.98


def whole_classes(register: Register) -> Iterator[Look]:
    return looks(register, register.curves(), register.days, register.ended)


@pytest.mark.slow
def test_within_age_bands_and_eras_limits_hold_the_mean_net_risk() -> None:
    """200 registers. Over whole classes they do not: who is revised sooner is also followed longer, or shorter."""
    seen, whole = [], []
    for seed in range(200):
        register = simulate(20_000, seed)
        seen += looks(register, register.curves("age_band", "era"), register.days, register.ended)
        whole += [look for look in whole_classes(register) if look.years == 15]
    shares = check_nominal(seen, "mean_risk", least=150)
    assert len(shares) >= 25
    assert 0.94 < np.mean(list(shares.values())) < 0.97
    assert np.mean([look.holds(look.limit_risk) for look in whole]) > 0.91
    assert np.mean([look.holds(look.mean_risk) for look in whole]) < 0.7
