"""Direct standardisation: a group's risk, were its strata mixed as in a stated population."""

from collections.abc import Sequence

import numpy as np

from regdash.errors import CountError
from regdash.stats.counts import amounts
from regdash.stats.limits import ALL_HAD_IT, RiskAt, Scale, risk_limits, z_score
from regdash.stats.step_curve import StepCurve

EXACT_STRATA = "no event yet: the upper limit is the highest mixed risk that leaves none a chance of half the rest"


def standardised_risk(
    curves: Sequence[StepCurve],
    population: Sequence[float] | np.ndarray,
    names: Sequence[str],
    days: Sequence[int] | np.ndarray,
    fewest_at_risk: int,
    level: float = 0.95,
    scale: Scale = "log-log",
) -> tuple[RiskAt, ...]:
    """
    Mix the risks of a group's strata in a population's proportions.

    Strata are independent, and the population's proportions taken as known: variances add up with the squared
    proportions. A stratum without an event adds nothing to them, so that limits are too narrow where strata are
    small: ask for enough at risk in each.

    Args:
        curves: one a stratum, of the same kind: net risks' `steps`, or incidences `of` one cause.
        population: (strata,) joints or shares of each stratum; those with none are left out.
        names: of the strata.
        days: whole days since implantation, at whose ends to read.
        fewest_at_risk: below which in any stratum no risk is given on that day.
        level, scale: as `risk_limits`.

    Returns:
        One a day. At risk and events are of all strata of the population together.

    Raises:
        CountError: not one number and name for each stratum, or a population of nobody.

    Source:
        Fleiss, Levin & Paik, Statistical Methods for Rates and Proportions (2003), chapter 19; of curves:
        Makuch (1982), J Chronic Dis 35:437-443.

    >>> from regdash.stats.kaplan_meier import kaplan_meier
    >>> young, old = (kaplan_meier([1, 9], [d, 0], [d, 10 - d]).steps for d in (4, 1))
    >>> [one] = standardised_risk([young, old], [1, 3], ["young", "old"], days=[5], fewest_at_risk=5)
    >>> round(one.risk, 3), one.at_risk, one.events
    (0.175, 15, 5)
    """
    shares = amounts("population", population)
    if not len(curves) == len(shares) == len(names) or not shares.sum() > 0:
        raise CountError(
            f"A population to standardise to needs joints, and one number and name for each of {len(curves)} strata."
        )
    used = [(curve, share, name) for curve, share, name in zip(curves, shares.tolist(), names, strict=True) if share]
    mix = np.array([share for _, share, _ in used]) / shares.sum()
    read = [curve.at(days, level, scale) for curve, _, _ in used]
    errors = np.stack([curve.se_at(days) for curve, _, _ in used])
    labels = [name for _, _, name in used]
    return tuple(
        _on_one_day(strata, mix, error, labels, fewest_at_risk, level, scale)
        for strata, error in zip(zip(*read, strict=True), errors.T, strict=True)
    )


def _on_one_day(
    strata: tuple[RiskAt, ...],
    mix: np.ndarray,
    error: np.ndarray,
    names: list[str],
    fewest: int,
    level: float,
    scale: Scale,
) -> RiskAt:
    day, at_risk, events = strata[0].day, sum(one.at_risk for one in strata), sum(one.events for one in strata)
    for one, name in zip(strata, names, strict=True):
        if one.risk is None or one.at_risk < fewest:
            note = f"stratum {name} has {one.at_risk} at risk on this day, fewer than {max(fewest, 1)}"
            return RiskAt(day, at_risk, events, None, None, None, note)
    risk = float(mix @ np.array([one.risk for one in strata]))
    if any(one.lower is None for one in strata):
        return RiskAt(day, at_risk, events, risk, None, None, ALL_HAD_IT)
    if risk == 0:
        upper = _highest_without_event(mix, np.array([one.at_risk for one in strata]), level)
        return RiskAt(day, at_risk, events, risk, 0.0, upper, EXACT_STRATA)
    se = np.sqrt(mix**2 @ error**2)
    low, high = risk_limits(np.array([risk]), np.array([se]), np.array([at_risk]), level, scale)
    return RiskAt(day, at_risk, events, risk, float(low[0]), float(high[0]))


def _highest_without_event(mix: np.ndarray, at_risk: np.ndarray, level: float) -> float:
    """
    The highest mixed risk, over all risks of strata, at which no event has a chance of (1 - level) / 2.

    With x = -log(1 - risk) of a stratum, the sum of at risk × x is fixed, and the mixed risk concave in x: the
    strata with the most share for each joint at risk take all of it, so that share × exp(-x) / at risk is equal.
    """
    z_score(level)  # refuses a level that is none
    spend = -np.log((1 - level) / 2)
    order = np.argsort(-mix / at_risk, kind="stable")
    share, size = mix[order], at_risk[order].astype(float)
    each = np.log(share / size)
    # With the first k strata taking part, the common log of share × exp(-x) / size:
    common = (np.cumsum(size * each) - spend) / np.cumsum(size)
    taking = int(np.flatnonzero(each > common)[-1])
    return float(-share @ np.expm1(-np.maximum(each - common[taking], 0)))
