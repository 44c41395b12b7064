"""The difference in risk between two groups at one time, split into the reasons that add up to it."""

from dataclasses import dataclass
from typing import Literal

import numpy as np

from regdash.stats.aalen_johansen import CumulativeIncidence, aalen_johansen
from regdash.stats.difference import DifferenceAt, risk_difference
from regdash.stats.events import DIED, FIRST_REASON, EventTable, GroupCounts
from regdash.stats.limits import z_score
from regdash.stats.step_curve import StepCurve

View = Literal["implant", "patient"]  # deaths censored; or death competing

MAY_BE_NOTHING = "shares are withheld: the limits of the whole difference include 0"
NO_LIMITS = "shares are withheld: the whole difference has no limits"
NOBODY_HAD_IT = "no joint of either group was revised for this reason by then"
ONE_HAS_NONE = "one group has no revision for this reason: the share's limits take that as known"


@dataclass(frozen=True)
class Share:
    """A part over the whole difference: below 0 where it pulls the other way, above 1 where others do."""

    share: float
    lower: float | None
    upper: float | None
    note: str | None = None


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

    Limits of a part are those of `risk_difference`. A share divides two estimates that vary together; its limits
    are Fieller's, all s for which part - s × whole may be 0. They enclose the share just where the limits of the
    whole leave out 0; elsewhere they have no end, and shares are withheld. The delta method would give limits there
    too, symmetric ones that do not hold. Since shares are shown only then, a whole that barely leaves out 0 is
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
    (whole,) = risk_difference(first.any_reason(), second.any_reason(), [day], level)
    if whole.difference is None:
        return Gap(view, whole, (), NO_LIMITS)
    parts = [
        risk_difference(first.incidence.of(cause), second.incidence.of(cause), [day], level)[0]
        for cause in first.reasons
    ]
    covariance = first.covariance_at(day) + second.covariance_at(day)
    why = _why_no_shares(whole, covariance, z_score(level))
    shares = [None] * len(parts) if why else _shares(parts, covariance, z_score(level))
    reasons = table.outcomes[FIRST_REASON:]
    return Gap(view, whole, tuple(GapPart(*each) for each in zip(reasons, parts, shares, strict=True)), why)


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


def _shares(parts: list[DifferenceAt], covariance: np.ndarray, z: float) -> list[Share]:
    """Give one share a part; its limits s solve (part - s × whole)² = z² × the variance of part - s × whole."""
    differences = np.array([part.difference for part in parts], dtype=float)
    whole, together = differences.sum(), covariance.sum(axis=1)
    square = whole**2 - z**2 * together.sum()
    middle = differences * whole - z**2 * together
    reach = np.sqrt(np.maximum(middle**2 - square * (differences**2 - z**2 * np.diag(covariance)), 0))
    each = zip(parts, differences / whole, (middle - reach) / square, (middle + reach) / square, strict=True)
    return [_share(part, float(share), float(lower), float(upper)) for part, share, lower, upper in each]


def _share(part: DifferenceAt, share: float, lower: float, upper: float) -> Share:
    having = (part.first != 0) + (part.second != 0)
    if having == 0:
        return Share(0.0, None, None, NOBODY_HAD_IT)
    return Share(share, lower, upper, ONE_HAS_NONE if having == 1 else None)
