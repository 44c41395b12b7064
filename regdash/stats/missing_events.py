"""
What a risk would be if a stated share of all revisions had never been reported: exact arithmetic on the counts.

A joint whose revision is missing is in the counts all the same, as one that was followed to death, loss or the end. Let
r(t) and l(t) be the joints revised and otherwise ended on day t, and p the share of true revisions that is missing,
whatever their day. Then h(t) = r(t) p / (1 − p) more were revised on day t, and stand among the c(t) joints that end
otherwise on day t or later. Each of these is as likely as the others to be one of them, so the proportion of them that
is revised by day t is f(t) = sum of h(s) / c(s) over s ≤ t, and

    revised    r*(t) = r(t) + h(t)
    else ended l*(t) = l(t) (1 − f(t))

add up to the same joints. Kaplan–Meier and Aalen–Johansen estimates are made of these expected counts. This takes
reporting to depend neither on the joint nor on time, and follow-up to end independently of revision; both are
assumptions, as in any such sensitivity analysis. Where more were revised than joints are left to be among, as after
the last other end of follow-up, the rest is left out.

No published source is known to us for these formulas; they follow from the counts as said, and the tests delete
revisions of a register whose truth is known.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from regdash.errors import CountError
from regdash.stats.events import CENSORED, DIED, FIRST_REASON, GroupCounts


@dataclass(frozen=True, eq=False)
class ExpectedCounts:
    """Expected counts of one group by day, some revisions added and other ends taken away."""

    days: np.ndarray  # (m,) int64, whole days, strictly increasing
    revised: np.ndarray  # (m,) float64
    died: np.ndarray  # (m,) float64, with whatever else competes
    censored: np.ndarray  # (m,) float64

    def risk_at(self, days: Sequence[int] | np.ndarray, *, compete: bool) -> np.ndarray:
        """
        Read the risk of revision at the end of each of these days.

        Args:
            compete: deaths compete (Aalen–Johansen); else they censor (Kaplan–Meier).
        """
        left = self.revised + self.died + self.censored
        at_risk = np.cumsum(left[::-1])[::-1]
        hazard = np.divide(self.revised, at_risk, out=np.zeros_like(left), where=at_risk > 0)
        ends = np.divide(self.died, at_risk, out=np.zeros_like(left), where=at_risk > 0) if compete else 0.0
        free = np.cumprod(np.clip(1 - hazard - ends, 0, 1))
        before = np.concatenate([[1.0], free[:-1]]) if len(free) else free
        risk = np.concatenate([[0.0], np.cumsum(before * hazard)])
        return risk[np.searchsorted(self.days, np.asarray(days), side="right")]


def with_missing(counts: GroupCounts, more: float) -> ExpectedCounts:
    """
    Expect that for each revision that was reported so many more were not.

    Args:
        counts: one group's counts, every joint of which enters before day 0.
        more: p / (1 − p), where the share p of the true revisions is missing; 0 changes nothing.

    Raises:
        CountError: joints that enter later, or a negative number.
    """
    if counts.entered is not None or not more >= 0:
        raise CountError("Missing revisions are added where every joint is followed from day 0, and never taken away.")
    revised = counts.by_outcome[:, FIRST_REASON:].sum(axis=1).astype(float)
    otherwise = (counts.left - revised).astype(float)
    among = np.cumsum(otherwise[::-1])[::-1]
    wanted = np.divide(revised * more, among, out=np.zeros_like(revised), where=among > 0)
    proportion = np.minimum(np.cumsum(wanted), 1.0)
    added = np.diff(proportion, prepend=0.0) * among
    kept = 1 - proportion
    return ExpectedCounts(
        counts.days, revised + added, counts.by_outcome[:, DIED] * kept, counts.by_outcome[:, CENSORED] * kept
    )


def together(parts: Sequence[ExpectedCounts]) -> ExpectedCounts:
    """Add the expected counts of parts of one group, as of hospitals that report differently."""
    days = np.unique(np.concatenate([part.days for part in parts]))
    sums = np.zeros((3, len(days)))
    for part in parts:
        sums[:, np.searchsorted(days, part.days)] += [part.revised, part.died, part.censored]
    return ExpectedCounts(days, *sums)


def more_for(share: float, all_revisions: int, revisions_there: int) -> float:
    """
    Give the missing revisions for each reported one, where all that are missing are missing in one part.

    Args:
        share: of all true revisions, that is missing.
        all_revisions: reported, everywhere.
        revisions_there: reported in the part.

    >>> more_for(0.2, 100, 100), more_for(0.2, 100, 25)
    (0.25, 1.0)
    """
    if revisions_there <= 0:
        raise CountError("Where no revision was reported, it cannot be said on which days others are missing.")
    return share / (1 - share) * all_revisions / revisions_there
