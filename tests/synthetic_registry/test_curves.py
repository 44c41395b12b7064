"""
The true curves: that they come out as tuned, and that they are what they say, against plain second ways.
Tuned values: common practice in the trade, no published source.
"""

import numpy as np
import pytest

from synthetic_registry import Register, simulate
from synthetic_registry.curves import TrueCurve
from synthetic_registry.hazards import whole_days
from synthetic_registry.knee import KNEE
from synthetic_registry.leaving import death_integral
from synthetic_registry.parameters import Death
from tests.synthetic_registry.made import net_risk

YEARS = (1, 3, 5, 10, 15)
# Percent revised at 1, 3, 5, 10 and 15 years.
TUNED = {"total": (0.9, 2.2, 3.0, 4.3, 5.6), "partial": (1.3, 4.2, 6.8, 12.3, 18.7)}


@pytest.mark.parametrize("name", ["total", "partial"])
def test_the_hazards_add_up_to_the_tuned_risks(name: str) -> None:
    hazard = np.array(list(KNEE.class_named(name).hazards.values())).sum(axis=0) / 1000
    bounds = np.append(KNEE.intervals, np.inf)
    risks = [
        1 - np.exp(-sum(h * max(min(t, high) - low, 0) for h, low, high in zip(hazard, bounds[:-1], bounds[1:])))
        for t in YEARS
    ]
    assert 100 * np.array(risks) == pytest.approx(TUNED[name], abs=0.06)


@pytest.mark.parametrize("joints", [3_000, 20_000, 200_000])
def test_the_classes_curves_come_out_as_tuned_in_registers_of_any_size(joints: int) -> None:
    curves = simulate(joints, seed=7).class_curves
    for name, tuned in TUNED.items():
        assert [100 * curves[name].at(year)[0] for year in YEARS] == pytest.approx(tuned, abs=0.15)


def test_the_limit_is_what_kaplan_meier_tends_to(small: Register) -> None:
    """Forty other lives of the same joints, estimated together: they differ from the limit by chance alone."""
    lives = [small.lived_again(number) for number in range(40)]
    count = len(small.days)
    codes, bands = small.covariate("age_band")
    curves = {tuple(curve.stratum.values()): curve for curve in [*small.curves(), *small.curves("age_band")]}
    for place, name in enumerate(small.joints.classes):
        groups = {(name,): small.joints.joint_class[:count] == place}
        groups |= {(name, band): groups[(name,)] & (codes == number) for number, band in enumerate(bands)}
        for stratum, ours in groups.items():
            if groups[(name,)].sum() < 500:  # a class too rare for this
                continue
            days = np.concatenate([life.days[:count][ours] for life in lives])
            revised = np.concatenate([life.ended[:count][ours] == 0 for life in lives])
            risk, error = net_risk(days, revised, YEARS)
            limit = np.array([curves[stratum].at(year)[0] for year in YEARS])
            # Where few are left the standard error is none; of 50 comparisons none should lie beyond 5 of it.
            seen = [curves[stratum].at(year)[0] > 0 and followed(curves[stratum], year) > 20 for year in YEARS]
            assert (np.abs(risk - limit)[seen] < 5 * error[seen]).all(), stratum
            assert sum(seen) >= 3


def followed(curve: TrueCurve, year: int) -> float:
    """How many joints are expected at risk after so many years."""
    day = int(year * 365.25)
    return float(curve.expected_at_risk[day]) if day < len(curve.expected_at_risk) else 0.0


def test_the_limit_counts_day_by_day_what_each_joint_may_do() -> None:
    """A plain loop over days, with hazards of death summed up from the Gompertz formula in small steps."""
    register = simulate(600, seed=5)
    curve = {c.stratum["class"]: c for c in register.curves(step=1)}["total"]
    hazard, leave = register.hazards[0], register.leave
    at, starts = hazard.at, whole_days(KNEE.intervals)
    there, surviving, risks, means = np.ones(len(at)), np.ones(len(at)), [], []
    remaining = 1.0
    for day in range(6000):
        interval = np.searchsorted(starts, day, side="right") - 1
        chance = 1 - np.exp(-hazard.rate[interval])
        followed = there * (leave.admin_day[at] >= day)
        remaining *= 1 - (followed * chance).sum() / followed.sum()
        surviving *= 1 - chance
        risks.append(1 - remaining)
        means.append(1 - surviving.mean())
        since = (day - leave.gap[at] + np.array([[0.25], [0.75]])) / 365.25
        death = leave.coefficient[at] * np.exp(0.105 * since) * np.where(since < 1, 0.6, 1) / 365.25
        leaving = np.where(since > 0, death + 0.004 / 365.25, 0).mean(axis=0)
        there *= (1 - chance) * np.exp(-leaving)
    assert np.abs(curve.limit_risk[:6000] - risks).max() < 2e-6
    assert np.abs(curve.mean_risk[:6000] - means).max() < 2e-5


@pytest.mark.slow  # two ways of counting
def test_counting_every_eighth_week_is_as_good_as_every_day() -> None:
    register = simulate(5_000, seed=1)
    for rough, exact in zip(register.curves("bearing"), register.curves("bearing", step=1)):
        count = min(len(rough.limit_risk), len(exact.limit_risk), 20 * 365)
        assert np.abs(rough.limit_risk[:count] - exact.limit_risk[:count]).max() < 5e-4
        assert np.abs(rough.mean_risk[:count] - exact.mean_risk[:count]).max() < 5e-5


def test_within_age_and_era_the_mean_risk_is_nearly_the_limit(large: Register) -> None:
    for curve in large.curves("age_band", "era"):
        for year in (5, 10, 15):
            limit, mean = curve.at(year)
            if curve.joints > 500 and not np.isnan(limit) and curve.expected_at_risk[year * 365] > 40:
                assert mean == pytest.approx(limit, rel=0.08), curve.stratum


def test_several_groupings_at_once_are_those_asked_one_by_one(small: Register) -> None:
    together = small.curve_sets([(), ("age_band",), ("bearing",), ("age_band", "bearing")])
    alone = [*small.curves(), *small.curves("age_band"), *small.curves("bearing"), *small.curves("age_band", "bearing")]
    assert [(c.stratum, c.joints) for c in together] == [(c.stratum, c.joints) for c in alone]
    for one, other in zip(together, alone):
        np.testing.assert_allclose(one.limit_risk, other.limit_risk, atol=1e-12)
        np.testing.assert_allclose(one.mean_risk, other.mean_risk, atol=1e-12)


@pytest.mark.parametrize(
    ("sex", "survival"), [("male", (90, 73, 41)), ("female", (93, 82, 56))]
)  # percent alive 10 years later at 60, 70 and 80: facts of the trade, from memory, no published source
def test_people_die_as_they_do(sex: str, survival: tuple[int, ...]) -> None:
    death = Death(KNEE.death.hazard_at_65, KNEE.death.growth, first_year=1.0, asa={})
    for age, percent in zip((60, 70, 80), survival):
        hazard = death.hazard_at_65[sex] * np.exp(death.growth * (age - 65))
        alive = np.exp(-hazard * death_integral(death, np.array(10.0)))
        assert 100 * alive == pytest.approx(percent, abs=1.0)


def test_few_die_within_ninety_days(large: Register) -> None:
    """0.2 to 0.4 % after planned operations: a fact of the trade, from memory, no published source."""
    joints, exits = large.joints, large.lives.exits
    count = joints.primaries.registered
    died = exits.death_day[joints.primaries.patient[:count]] - joints.primaries.day[:count]
    assert 0.002 < (died <= 90).mean() < 0.004
