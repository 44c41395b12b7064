"""Pointwise limits of a risk, and what is said where there are none."""

from dataclasses import dataclass
from statistics import NormalDist
from typing import Literal

import numpy as np

Scale = Literal["log-log", "log", "plain"]


@dataclass(frozen=True)
class RiskAt:
    """A risk read from its curve at the end of one day. What is not defined is None, and the note says why."""

    day: int
    at_risk: int  # joints whose follow-up reaches this day (and that are in it): at risk just before its events
    events: int  # joints with the event up to and including this day
    risk: float | None  # 0 to 1
    lower: float | None
    upper: float | None
    note: str | None = None


@dataclass(frozen=True, eq=False)
class RiskCurve:
    """
    A whole step curve with limits: each value holds from its day until the next.

    It starts on day 0 and ends on the last day of follow-up: nothing is known later. Limits are masked
    where they are not defined (everybody has had the event); under the mask stand finite numbers.
    """

    days: np.ndarray  # (c,) int64, strictly increasing
    risk: np.ndarray  # (c,) 0 to 1
    lower: np.ma.MaskedArray  # (c,)
    upper: np.ma.MaskedArray  # (c,)
    at_risk: np.ndarray  # (c,) int64, joints whose follow-up reaches each day


NO_FOLLOW_UP = "nobody is in follow-up on this day"
ALL_HAD_IT = "limits are not defined where every joint has had the event"
_ROUNDING = 1e-12  # a sum of steps that should be 1 may fall short of it by this much
EXACT_BOUND = "no event yet: the upper limit is the one-sided exact bound for the joints at risk"


def z_score(level: float) -> float:
    """
    Find the normal quantile of a two-sided confidence level.

    Raises:
        ValueError: a level that is not between 0 and 1.

    >>> round(z_score(0.95), 6)
    1.959964
    """
    if not 0 < level < 1:
        raise ValueError(f"A confidence level lies between 0 and 1; {level} does not.")
    return NormalDist().inv_cdf((1 + level) / 2)


def risk_limits(
    risk: np.ndarray, se: np.ndarray, at_risk: np.ndarray, level: float = 0.95, scale: Scale = "log-log"
) -> tuple[np.ma.MaskedArray, np.ma.MaskedArray]:
    """
    Find the lower and upper limits of a risk F = 1 - S from its standard error.

    Args:
        risk: (c,) F, 0 to 1.
        se: (c,) standard error of F (that of S is the same).
        at_risk: (c,) joints at risk, for the bound where there is no event yet.
        level: two-sided confidence level.
        scale: "log-log" takes limits of log(-log S), "log" of log S, "plain" of S itself; the last two
            are cut off at 0 and 1.

    Returns:
        (c,) lower and (c,) upper. Where F = 0 there are none on any scale: lower is 0 and upper the
        one-sided exact bound 1 - (alpha / 2)^(1 / at risk). Where S = 0 both are masked.

    Source:
        Kalbfleisch & Prentice, The Statistical Analysis of Failure Time Data; Borgan & Liestøl (1990),
        Scand J Stat 17:35-41 (log-log). Bound without events: binomial, as Clopper & Pearson (1934).
    """
    z = z_score(level)
    all_had_it = risk >= 1 - _ROUNDING
    inside = (risk > 0) & ~all_had_it
    lower, upper = np.zeros(len(risk)), np.ones(len(risk))
    with np.errstate(over="ignore"):  # limits that far out are 0 and 1
        lower[inside], upper[inside] = _transformed(risk[inside], z * se[inside], scale)
    none_yet = (risk <= 0) & (at_risk > 0)
    upper[none_yet] = -np.expm1(np.log((1 - level) / 2) / at_risk[none_yet])
    masked = all_had_it | ((risk <= 0) & (at_risk <= 0))
    return np.ma.MaskedArray(lower, masked), np.ma.MaskedArray(upper, masked)


def _transformed(risk: np.ndarray, width: np.ndarray, scale: Scale) -> tuple[np.ndarray, np.ndarray]:
    if scale == "plain":
        return np.maximum(risk - width, 0), np.minimum(risk + width, 1)
    log_free = np.log1p(-risk)
    log_width = width / (1 - risk)
    if scale == "log":
        return np.maximum(-np.expm1(log_free + log_width), 0), -np.expm1(log_free - log_width)
    if scale == "log-log":
        stretch = np.exp(log_width / -log_free)
        return -np.expm1(log_free / stretch), -np.expm1(log_free * stretch)
    raise ValueError(f"Limits are taken on the scale log-log, log or plain, not {scale}.")
