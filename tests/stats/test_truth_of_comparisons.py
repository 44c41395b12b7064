"""
Do tests reject as often as they say, and do limits hold the truth as often as they say? Joints are drawn from constant
hazards, so that every risk is known. Each claim is looked at in 1,000 samples; hits are accepted within the central
99.9 % of the binomial distribution with the nominal share.
"""

from collections.abc import Callable, Sequence

import numpy as np
import pytest
from scipy.special import bdtr

from regdash.stats.ceiling import against_ceiling
from regdash.stats.clustered import clustered_net_risk
from regdash.stats.clusters import JointRows
from regdash.stats.difference import risk_difference, risk_ratio
from regdash.stats.events import EventTable, GroupCounts
from regdash.stats.gap import gap_by_reason
from regdash.stats.gray import gray_test
from regdash.stats.kaplan_meier import NetRisk, kaplan_meier
from regdash.stats.log_rank import log_rank_test, trend_test
from regdash.stats.restricted_mean import mean_difference, restricted_mean

SAMPLES, DAY = 1000, 1500

pytestmark = pytest.mark.slow


def drawn(chance: np.random.Generator, size: int, hazards: Sequence[float | np.ndarray]) -> np.ndarray:
    """(size, 2) last day and outcome; hazards a day of dying, then of revision for each reason."""
    rate = np.column_stack([np.broadcast_to(hazard, size) for hazard in hazards])
    times = chance.exponential(1 / rate)
    followed = chance.integers(1000, 4000, size)  # through the end of this day
    first, days = times.argmin(axis=1), np.floor(times.min(axis=1)).astype(np.int64)
    seen = days <= followed
    return np.column_stack([np.where(seen, days, followed), np.where(seen, first + 1, 0)])


def table(groups: Sequence[np.ndarray], reasons: int) -> EventTable:
    number = np.repeat(np.arange(len(groups)), [len(each) for each in groups])
    day, outcome = np.concatenate(groups).T
    outcomes = ("censored", "died", *(f"reason {n + 1}" for n in range(reasons)))
    return EventTable(tuple((str(n),) for n in range(len(groups))), outcomes, number, day, outcome, np.ones(len(day)))


def net_of(counts: GroupCounts) -> NetRisk:
    return kaplan_meier(counts.days, counts.revised, counts.left)


def net_risk(hazard: float, day: int = DAY) -> float:
    return float(-np.expm1(-hazard * (day + 1)))


def incidence(hazard: float, everything: float) -> float:
    return hazard / everything * net_risk(everything)


def check_share(hits: int, share: float, samples: int = SAMPLES) -> None:
    assert bdtr(hits, samples, share) > 0.0005, f"{hits} of {samples:,} are too few for {share}"
    assert bdtr(hits - 1, samples, share) < 0.9995, f"{hits} of {samples:,} are too many for {share}"


def counted(seed: int, hit: Callable[[np.random.Generator], bool]) -> int:
    chance = np.random.default_rng(seed)
    return sum(hit(chance) for _ in range(SAMPLES))


def test_groups_that_differ_in_mortality_alone_are_told_apart_by_log_rank_in_5_of_100() -> None:
    def rejected(chance: np.random.Generator) -> bool:
        groups = [drawn(chance, size, (death, 1e-4)) for size, death in ((300, 1e-5), (200, 2e-4), (100, 4e-4))]
        return log_rank_test(table(groups, 1)).p < 0.05

    check_share(counted(1, rejected), 0.05)


@pytest.mark.parametrize("rho", [0, 1])
def test_groups_that_do_not_differ_are_told_apart_by_gray_in_5_of_100(rho: int) -> None:
    def rejected(chance: np.random.Generator) -> bool:
        return gray_test(table([drawn(chance, size, (1e-4, 1e-4)) for size in (300, 200, 100)], 1), rho=rho).p < 0.05

    check_share(counted(2, rejected), 0.05)


def test_strata_that_differ_do_not_make_groups_differ() -> None:
    """Each stratum has its own hazards, and groups are mixed differently in them."""
    layout = [(0, 0, 250), (0, 1, 50), (1, 0, 50), (1, 1, 250)]

    def rejected(chance: np.random.Generator) -> tuple[bool, bool, bool]:
        groups = [drawn(chance, size, (1e-4, 5e-5 * (1 + 4 * stratum))) for stratum, _, size in layout]
        asked = {"compare": [str(g) for _, g, _ in layout], "stratum": [s for s, _, _ in layout]}
        both = table(groups, 1)
        by_log_rank, by_gray = log_rank_test(both, **asked), gray_test(both, **asked)  # type: ignore[arg-type]
        return by_log_rank.p < 0.05, by_gray.p < 0.05, trend_test(by_log_rank).p < 0.05

    chance = np.random.default_rng(3)
    for hits in np.sum([rejected(chance) for _ in range(SAMPLES)], axis=0).tolist():
        check_share(hits, 0.05)


def test_differences_ratios_and_means_hold_the_truth_in_95_of_100() -> None:
    truth = net_risk(2e-4) - net_risk(1e-4), net_risk(2e-4) / net_risk(1e-4)
    lost = sum(net_risk(2e-4, day) - net_risk(1e-4, day) for day in range(DAY))

    def held(chance: np.random.Generator) -> tuple[bool, bool, bool]:
        groups = table([drawn(chance, size, (1e-4, hazard)) for size, hazard in ((300, 2e-4), (600, 1e-4))], 1)
        one, other = net_of(groups.of(0)), net_of(groups.of(1))
        (difference,), (ratio,) = (
            risk_difference(one.steps, other.steps, [DAY]),
            risk_ratio(one.steps, other.steps, [DAY]),
        )
        means = mean_difference(restricted_mean(one, DAY), restricted_mean(other, DAY))
        limits = ((difference, truth[0]), (ratio, truth[1]), (means, -lost))
        return tuple(found.lower < true < found.upper for found, true in limits)  # type: ignore[operator, return-value]

    chance = np.random.default_rng(4)
    for hits in np.sum([held(chance) for _ in range(SAMPLES)], axis=0).tolist():
        check_share(hits, 0.95)


def test_patients_whose_joints_are_alike_need_errors_by_patient() -> None:
    """Hazards vary between patients, both joints having theirs; the mean risk is known from the gamma distribution."""
    shape, hazard, pairs = 0.5, 4e-4, 300
    truth = 1 - (1 + hazard / shape * (DAY + 1)) ** -shape

    def held(chance: np.random.Generator) -> tuple[bool, bool]:
        frail = np.repeat(chance.gamma(shape, 1 / shape, pairs), 2) + 1e-12
        joints = drawn(chance, 2 * pairs, (1e-5, hazard * frail))
        net = net_of(table([joints], 1).of(0))
        rows = JointRows(np.arange(2 * pairs) // 2, joints[:, 0], (joints[:, 1] == 2).astype(int))
        points = clustered_net_risk(net, rows).at([DAY])[0], net.at([DAY])[0]
        return tuple(point.lower < truth < point.upper for point in points)  # type: ignore[operator, return-value]

    chance = np.random.default_rng(5)
    by_patient, by_joint = np.sum([held(chance) for _ in range(SAMPLES)], axis=0).tolist()
    check_share(by_patient, 0.95)
    assert by_joint < 0.93 * SAMPLES


def test_parts_and_shares_of_a_gap_hold_the_truth_in_95_of_100() -> None:
    """A gap so wide that its shares are never withheld: where they are shown only by luck, no limits could hold."""
    hazards = ((1e-4, 3e-4, 1e-4), (1e-4, 5e-5, 8e-5))

    def parts(view: str) -> list[float]:
        totals = [sum(group[1:]) if view == "implant" else sum(group) for group in hazards]
        return [incidence(hazards[0][k], totals[0]) - incidence(hazards[1][k], totals[1]) for k in (1, 2)]

    def held(chance: np.random.Generator) -> list[bool]:
        groups = table([drawn(chance, 600, group) for group in hazards], 2)
        found = []
        for view in ("implant", "patient"):
            truth = parts(view)
            gap = gap_by_reason(groups, 0, 1, DAY, view)  # type: ignore[arg-type]
            assert gap.withheld is None
            found += [each.part.lower < true < each.part.upper for each, true in zip(gap.parts, truth, strict=True)]  # type: ignore[operator]
            share = gap.parts[0].share
            assert share is not None
            found.append(share.lower < truth[0] / sum(truth) < share.upper)  # type: ignore[operator]
        return found

    chance = np.random.default_rng(6)
    for hits in np.sum([held(chance) for _ in range(SAMPLES)], axis=0).tolist():
        check_share(hits, 0.95)


def test_a_risk_just_at_the_ceiling_is_seldom_called_met_or_not_met() -> None:
    """Each of the two wrong verdicts at most in 2.5 of 100; the limits' scale is not symmetric, so not just so many."""
    ceiling = net_risk(1e-4)

    def verdict(chance: np.random.Generator) -> str:
        net = net_of(table([drawn(chance, 800, (1e-4, 1e-4))], 1).of(0))
        return against_ceiling(net.steps, ceiling, DAY, 100).verdict

    chance = np.random.default_rng(7)
    verdicts = [verdict(chance) for _ in range(SAMPLES)]
    for wrong in ("met", "not met"):
        assert bdtr(verdicts.count(wrong) - 1, SAMPLES, 0.025) < 0.9995, verdicts.count(wrong)
    check_share(verdicts.count("cannot say yet"), 0.95)
