"""The day by which a stated proportion of joints has had the event, with limits."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from regdash.stats.limits import Scale, risk_limits
from regdash.stats.step_curve import StepCurve

NOT_REACHED = "this risk is not reached in follow-up"
NO_UPPER = "the lower limit of the risk does not get there in follow-up: the upper limit is not reached"
_SAME = 1e-9  # a product of fractions that should be p may miss it by rounding


@dataclass(frozen=True)
class TimeToRisk:
    """When a risk is reached. What is not reached in follow-up is None, and the note says so."""

    risk: float  # 0 to 1
    day: float | None  # a half day where the curve is flat at just this risk
    lower: float | None
    upper: float | None
    note: str | None = None


def times_to_risk(
    curve: StepCurve, risks: Sequence[float] | np.ndarray, level: float = 0.95, scale: Scale = "log-log"
) -> tuple[TimeToRisk, ...]:
    """
    Find the first day on which a curve reaches each of these risks.

    Where the curve stays at just this risk for a while, the middle of that time is given: up to the next step, or
    up to the last day of follow-up. The limits are where the curve's own limits get there.

    Args:
        risks: (g,) between 0 and 1.

    Raises:
        ValueError: a risk that is not between 0 and 1.

    Source:
        Brookmeyer & Crowley (1982), Biometrics 38:29-41; the middle as in R's survival package.

    >>> from regdash.stats.kaplan_meier import kaplan_meier
    >>> net = kaplan_meier(np.array([2, 5, 9]), np.array([1, 1, 0]), np.array([1, 1, 2]))
    >>> [found.day for found in times_to_risk(net.steps, [0.2, 0.25, 0.5, 0.6])]
    [2.0, 3.5, 7.0, None]
    """
    lower, upper = risk_limits(curve.risk, curve.se, curve.followed.at(curve.days), level, scale)
    kept, last = ~lower.mask, curve.followed.last_day
    limits_last = last if kept.all() else None  # where every joint had the event no limit holds to the end
    found = []
    for risk in risks:
        if not 0 < risk < 1:
            raise ValueError(f"A risk to be reached lies between 0 and 1; {risk} does not.")
        day = _first(curve.days, curve.risk, risk, last)
        early, late = (_first(curve.days[kept], limit.data[kept], risk, limits_last) for limit in (upper, lower))
        note = NOT_REACHED if day is None else NO_UPPER if late is None else None
        found.append(TimeToRisk(float(risk), day, early, late, note))
    return tuple(found)


def _first(days: np.ndarray, values: np.ndarray, risk: float, last: int | None) -> float | None:
    """The day on which values get to a risk, or the middle of the days on which they stay there."""
    there, beyond = np.flatnonzero(values >= risk - _SAME), np.flatnonzero(values >= risk + _SAME)
    if not len(there):
        return None
    end = days[beyond[0]] if len(beyond) else last
    return None if end is None else float(days[there[0]] + end) / 2
