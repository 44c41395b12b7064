"""The difference in risk between two groups at one time, split into the reasons that add up to it."""

from dataclasses import dataclass
from typing import Literal

import numpy as np

from regdash.stats.aalen_johansen import CumulativeIncidence, aalen_johansen
from regdash.stats.difference import DifferenceAt, Side, risk_sides, side_difference
from regdash.stats.events import DIED, FIRST_REASON, EventTable, GroupCounts
from regdash.stats.limits import z_score
from regdash.stats.shares import Share, shares_of
from regdash.stats.step_curve import StepCurve

View = Literal["implant", "patient"]  # deaths censored; or death competing

MAY_BE_NOTHING = "shares are withheld: the limits of the whole difference include 0"
NO_LIMITS = "shares are withheld: the whole difference has no limits"


@dataclass(frozen=True)
class GapPart:
    """What one reason adds to the difference: its incidence in one group less that in the other."""

    reason: str
    part: DifferenceAt
    share: Share | None  # None where shares are withheld


@dataclass(frozen=True)
class Gap:
    """A difference in the risk of revision, and its parts; they add up to it."""

    view: View
    whole: DifferenceAt
    parts: tuple[GapPart, ...]  # one a reason, in the order of the table; none where the difference is not defined
    withheld: str | None  # why there are no shares


def gap_by_reason(
    table: EventTable, one: int, other: int, day: int, view: View = "implant", level: float = 0.95
) -> Gap:
    """
    Split the risk of one group less that of another by the end of a day into its reasons.

    In the implant view deaths censor and the reasons compete: incidences add up to 1 - Kaplan-Meier. In the patient
    view death competes too, and the parts are those of the reasons alone.

    Limits of a part are those of `risk_difference`: of a group that lacks the reason, its exact bound. A share divides
    two estimates that vary together; its limits are those of `shares_of`, all s for which part - s × whole may be 0,
    with the same bound, so that they leave out 0 just where the part's do. They enclose the share just where the limits
    of the whole leave out 0; elsewhere they have no end, and shares are withheld. The delta method would give limits
    there too, symmetric ones that do not hold. Since shares are shown only then, a whole that barely leaves out 0 is
    likely to have come out large by chance, and its shares small.

    Args:
        one, other: numbers of two groups of the table.
        day: whole days since implantation.

    Source:
        Parts: cumulative incidence, Aalen & Johansen (1978), with covariances by the delta method
        (`CumulativeIncidence.covariance_at`). Shares: Fieller (1954), JRSS B 16:175-185.

    >>> labels, outcomes = (("a",), ("b",)), ("censored", "died", "wear", "infection")
    >>> group, day, outcome = [0, 0, 0, 1, 1, 1], [1, 2, 9] * 2, [2, 3, 0] * 2
    >>> table = EventTable(labels, outcomes, group, day, outcome, [60, 30, 910, 20, 20, 960])
    >>> gap = gap_by_reason(table, 0, 1, 5)
    >>> round(gap.whole.difference, 4), [(part.reason, round(part.share.share, 4)) for part in gap.parts]
    (0.05, [('wear', 0.8), ('infection', 0.2)])
    """
    if view not in ("implant", "patient"):
        raise ValueError(f"A risk is seen from the implant or from the patient, not from the {view}.")
    first, second = (_by_reason(table.of(number), view) for number in (one, other))
    whole = side_difference(day, _side(first.any_reason(), day, level), _side(second.any_reason(), day, level))
    if whole.difference is None:
        return Gap(view, whole, (), NO_LIMITS)
    sides = [
        (_side(first.incidence.of(cause), day, level), _side(second.incidence.of(cause), day, level))
        for cause in first.reasons
    ]
    parts = [side_difference(day, *both) for both in sides]
    covariance = first.covariance_at(day) + second.covariance_at(day)
    why = _why_no_shares(whole, covariance, z_score(level))
    shares = [None] * len(parts) if why else shares_of(whole, parts, sides, covariance, z_score(level))
    reasons = table.outcomes[FIRST_REASON:]
    return Gap(view, whole, tuple(GapPart(*each) for each in zip(reasons, parts, shares, strict=True)), why)


def _side(curve: StepCurve, day: int, level: float) -> Side:
    return risk_sides(curve, [day], level)[0]


@dataclass(frozen=True, eq=False)
class _ByReason:
    """One group: the incidence of every reason, competing."""

    incidence: CumulativeIncidence
    reasons: range  # its causes that are reasons for revision
    together: CumulativeIncidence  # the same with all reasons as the last cause

    def any_reason(self) -> StepCurve:
        return self.together.of(self.together.events.shape[1] - 1)

    def covariance_at(self, day: int) -> np.ndarray:
        """(c, c) of the reasons."""
        return self.incidence.covariance_at(day)[self.reasons.start :, self.reasons.start :]


def _by_reason(counts: GroupCounts, view: View) -> _ByReason:
    first = FIRST_REASON if view == "implant" else DIED
    causes = counts.by_outcome[:, first:]
    others = causes[:, : FIRST_REASON - first]
    together = np.column_stack([others, counts.revised])
    found, merged = (aalen_johansen(counts.days, by, counts.left, counts.entered) for by in (causes, together))
    return _ByReason(found, range(others.shape[1], causes.shape[1]), merged)


def _why_no_shares(whole: DifferenceAt, covariance: np.ndarray, z: float) -> str | None:
    if whole.difference is None or whole.lower is None or whole.upper is None:
        return NO_LIMITS
    includes_0 = whole.lower <= 0 <= whole.upper or whole.difference**2 <= z**2 * covariance.sum()
    return MAY_BE_NOTHING if includes_0 else None
