"""Is a risk below a ceiling that the office states, or no worse than a benchmark by a stated margin?"""

from dataclasses import dataclass
from typing import Literal

from regdash.stats.difference import DifferenceAt, Side, risk_sides, side_difference
from regdash.stats.limits import RiskAt, Scale
from regdash.stats.step_curve import StepCurve

Verdict = Literal["met", "not met", "cannot say yet"]


@dataclass(frozen=True)
class AgainstCeiling:
    """Whether a risk is below a ceiling, and why, in words."""

    day: int
    ceiling: float
    at_risk: int  # joints whose follow-up reaches the day
    risk: float | None
    lower: float | None
    upper: float | None
    verdict: Verdict
    why: str


@dataclass(frozen=True)
class AgainstBenchmark:
    """Whether a risk is below a benchmark's with a margin on it, and why, in words."""

    day: int
    margin: float
    at_risk: tuple[int, int]  # joints whose follow-up reaches the day, of the group and of the benchmark
    excess: DifferenceAt  # risk of the group less (1 + margin) × that of the benchmark
    verdict: Verdict
    why: str


def against_ceiling(
    curve: StepCurve,
    ceiling: float,
    day: int,
    minimum_at_risk: int,
    level: float = 0.95,
    scale: Scale = "log-log",
) -> AgainstCeiling:
    """
    Say whether the risk by the end of a day is below a ceiling: met, not met, or cannot say yet.

    Met: its upper limit is below the ceiling. Not met: its lower limit is above. A point estimate decides nothing,
    and neither does a risk that too few joints have been followed to. Each end of a two-sided limit of 95 % is a
    one-sided one of 97.5 %.

    Args:
        ceiling: between 0 and 1; none comes with the program.
        day: whole days since implantation.
        minimum_at_risk: joints whose follow-up must reach the day.

    Raises:
        ValueError: a ceiling that is not between 0 and 1.

    Source:
        Three verdicts from one confidence interval: common practice, as in non-inferiority trials.

    >>> from regdash.stats.kaplan_meier import kaplan_meier
    >>> import numpy as np
    >>> curve = kaplan_meier(np.array([100, 4000]), np.array([20, 0]), np.array([20, 980])).steps
    >>> [against_ceiling(curve, ceiling, 3652, 500).verdict for ceiling in (0.05, 0.025, 0.01)]
    ['met', 'cannot say yet', 'not met']
    """
    (point,) = curve.at([day], level, scale)
    return judged_by_ceiling(point, ceiling, minimum_at_risk)


def judged_by_ceiling(point: RiskAt, ceiling: float, minimum_at_risk: int) -> AgainstCeiling:
    """Say the same of a risk with limits, however it was estimated."""
    if not 0 < ceiling < 1:
        raise ValueError(f"A ceiling for a risk lies between 0 and 1; {ceiling} does not.")
    few = _too_few(point.at_risk, minimum_at_risk)
    verdict, why = few or _verdict(point.lower, point.upper, ceiling, "the ceiling", point.note)
    return AgainstCeiling(point.day, ceiling, point.at_risk, point.risk, point.lower, point.upper, verdict, why)


def against_benchmark(
    curve: StepCurve, benchmark: StepCurve, margin: float, day: int, minimum_at_risk: int, level: float = 0.95
) -> AgainstBenchmark:
    """
    Say whether the risk by the end of a day is below (1 + margin) times a benchmark's.

    Met: the upper limit of the excess is below 0. Not met: its lower limit is above 0, worse by the margin or more.
    A benchmark that was picked because it did best looks better than it is; its own joints must not be among those
    compared with it.

    Args:
        margin: 0 or more; 0.2 allows a risk a fifth higher.
        minimum_at_risk: joints whose follow-up must reach the day, in each of the two.

    Raises:
        ValueError: a margin below 0.

    Source:
        Excess F - (1 + m) B with variance se² + (1 + m)² se_B², limits as `risk_difference`: derived here, in the
        manner of a non-inferiority trial with a relative margin.
    """
    at_risk = (int(curve.followed.at([day])[0]), int(benchmark.followed.at([day])[0]))
    (own,), (best,) = risk_sides(curve, [day], level), risk_sides(benchmark, [day], level)
    return judged_by_benchmark(day, own, best, margin, at_risk, minimum_at_risk)


def judged_by_benchmark(
    day: int, own: Side, benchmark: Side, margin: float, at_risk: tuple[int, int], minimum_at_risk: int
) -> AgainstBenchmark:
    """Say the same of two risks with limits, however they were estimated; joints at risk of the own one come first."""
    if not 0 <= margin < float("inf"):
        raise ValueError(f"A margin is 0 or more; {margin} is not.")
    excess = side_difference(day, own, benchmark.times(1 + margin))
    few = _too_few(min(at_risk), minimum_at_risk)
    verdict, why = few or _verdict(excess.lower, excess.upper, 0.0, "no excess", excess.note)
    return AgainstBenchmark(day, margin, at_risk, excess, verdict, why)


def _too_few(at_risk: int, minimum: int) -> tuple[Verdict, str] | None:
    if at_risk >= minimum:
        return None
    joints = "joint" if at_risk == 1 else "joints"
    return "cannot say yet", f"{at_risk:,} {joints} at risk, fewer than the {minimum:,} asked for"


def _verdict(
    lower: float | None, upper: float | None, bound: float, name: str, note: str | None
) -> tuple[Verdict, str]:
    if lower is None or upper is None:
        return "cannot say yet", note or "there are no limits"
    if upper < bound:
        return "met", f"the upper limit is below {name}"
    if lower > bound:
        return "not met", f"the lower limit is above {name}"
    return "cannot say yet", f"the limits include {name}"
