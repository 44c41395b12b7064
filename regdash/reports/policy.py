"""When a figure is withheld, and why in words. The statistics never withhold; reports do, all by this one policy."""

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from regdash.errors import PolicyError
from regdash.stats.years import DAYS_PER_YEAR

BESIDE_SMALL = "withheld beside a small count, which would follow from the total"


@dataclass(frozen=True)
class Policy:
    """
    What must be met before a figure is shown.

    Two things are kept apart. A figure that chance alone could have made is withheld from everybody. A count so small
    that it points at single patients is withheld from whoever is not of the office: off, unless the office turns it
    on. Then counts from 1 up to just below the least that is shown are withheld, and with them every figure of their
    row that would give them away; 0 is shown. Where reasons add up to a total that is shown, others are withheld
    beside them (complementary suppression). What else follows from totals, or from the difference of two answers, is
    not looked for.

    Raises:
        PolicyError: a setting that cannot be.

    Source:
        Least at risk: common practice, no published source. Least events of a ratio: Vittinghoff & McCulloch (2007),
        Am J Epidemiol 165:710-718. Small counts: Hundepool et al. (2012), Statistical Disclosure Control.
    """

    minimum_at_risk: int = 40  # one more revision among 40 moves the proportion not revised by a fortieth of itself
    minimum_events: int = 5  # in each of two groups, where limits of what compares them need many events
    minimum_in_stratum: int = 10  # of a standardised risk, whose error a stratum without revisions adds nothing to
    withhold_counts_under: int = 0  # counts of 1 and more below this are withheld; 0: none is
    level: float = 0.95  # of all limits

    def __post_init__(self) -> None:
        for name, value in self.settings.items():
            if name == "confidence_level":
                if isinstance(value, bool) or not isinstance(value, (int, float)) or not 0 < value < 1:
                    raise PolicyError(f"{name} is a number between 0 and 1, as in 0.95, not {value!r}.")
            elif isinstance(value, bool) or not isinstance(value, int) or value < 0:
                raise PolicyError(f"{name} is a whole number from 0 up, as in 10, not {value!r}.")

    @property
    def settings(self) -> dict[str, Any]:
        """As recorded in the head of every report, and as `policy.toml` names them."""
        return {
            "minimum_at_risk": self.minimum_at_risk,
            "minimum_events": self.minimum_events,
            "minimum_in_stratum": self.minimum_in_stratum,
            "withhold_counts_under": self.withhold_counts_under,
            "confidence_level": self.level,
        }

    def at_least(self, withhold_counts_under: int | None) -> "Policy":
        """The same policy, with as many small counts withheld as it says or as is asked, whichever are more."""
        most = max(self.withhold_counts_under, withhold_counts_under or 0)
        return replace(self, withhold_counts_under=most)

    @property
    def withholds_counts(self) -> bool:
        """Whether any small count is withheld."""
        return self.withhold_counts_under > 1

    def count(self, number: int) -> int | None:
        """
        Give a count, or None where it is small.

        >>> policy = Policy(withhold_counts_under=10)
        >>> policy.count(0), policy.count(9), policy.count(10)
        (0, None, 10)
        """
        return None if 0 < number < self.withhold_counts_under else number

    def said(self, number: int) -> str:
        """
        Write a count in a sentence.

        >>> Policy(withhold_counts_under=10).said(3), Policy().said(1234)
        ('fewer than 10', '1,234')
        """
        return f"{number:,}" if self.count(number) is not None else f"fewer than {self.withhold_counts_under:,}"

    def why_small(self, *counts: int) -> str | None:
        """Say why figures are withheld that one of these counts would follow from, or None."""
        if not self.withholds_counts or all(self.count(number) is not None for number in counts):
            return None
        last = self.withhold_counts_under - 1
        return "a count of 1 is withheld" if last == 1 else f"counts of 1 to {last:,} are withheld"

    def hidden_parts(self, counts: np.ndarray) -> np.ndarray:
        """
        Say which parts of totals that are shown must be withheld: the small ones, and as few others as hide them.

        What a row withholds adds up to its total less what is shown. That sum must not be small itself, and must not
        be of one part alone; the smallest others are withheld until it is neither. A part is withheld in all rows.

        Args:
            counts: (rows, parts) of things that add up along each row.

        Returns:
            (parts,) bool.

        Source:
            Secondary suppression: Hundepool et al. (2012), Statistical Disclosure Control.

        >>> Policy(withhold_counts_under=5).hidden_parts(np.array([[3, 20, 9, 0]])).tolist()
        [True, False, True, False]
        """
        small = np.array([[self.count(number) is None for number in row] for row in counts.tolist()], dtype=bool)
        hidden = np.asarray(small.reshape(counts.shape).any(axis=0))
        for row in np.flatnonzero(small.reshape(counts.shape).any(axis=1)).tolist():
            own = counts[row]
            while own[hidden].sum() < self.withhold_counts_under or np.count_nonzero(own[hidden]) < 2:
                others = np.flatnonzero(~hidden & (own > 0))
                if not len(others):
                    break
                hidden[others[np.argmin(own[others])]] = True
        return hidden

    def refuse_single(self, what: str) -> None:
        """
        Refuse an answer that is about joints one by one.

        Raises:
            PolicyError: small counts are withheld.
        """
        if self.withholds_counts:
            raise PolicyError(
                f"Counts under {self.withhold_counts_under:,} are withheld, and {what} shows joints one by one. Ask "
                "for counts, or where none is withheld."
            )

    def why_not_at(
        self, day: int, at_risk: int, last_day: int | None, events: int = 0, of: str = "joints"
    ) -> str | None:
        """
        Say why an estimate at a time is withheld, or None.

        Args:
            day: whole days since implantation.
            at_risk: joints whose follow-up reaches that day.
            last_day: the longest follow-up in the group; None where it has no joint.
            events: those up to that day, which the estimate would give away.
            of: what is counted, where it is not joints.
        """
        if last_day is None:
            return f"no {of}"
        if small := self.why_small(at_risk, events):
            return small
        if day > last_day:
            return f"not reached: the longest follow-up is {last_day / DAYS_PER_YEAR:.1f} years"
        if at_risk < self.minimum_at_risk:
            return f"fewer than {self.minimum_at_risk} {of} at risk"
        return None

    def last_allowed(self, days: np.ndarray, at_risk: np.ndarray) -> int:
        """
        Find the last day up to which a curve may be drawn; -1 where it may not.

        Each step of a curve is a count of joints, mostly of one: where small counts are withheld there is no curve.
        """
        enough = np.flatnonzero(at_risk >= max(self.minimum_at_risk, 1))
        return int(days[enough[-1]]) if len(enough) and not self.withholds_counts else -1

    def why_no_rate(self, joints: int, events: int = 0) -> str | None:
        """Say why a rate is withheld, or None. Its limits are exact, so that it needs no events."""
        if small := self.why_small(joints, events):
            return small
        return f"fewer than {_so_many(self.minimum_at_risk, 'joint')}" if joints < self.minimum_at_risk else None

    def why_few_events(self, events: int) -> str | None:
        """Say why a group cannot be compared where limits need many events, or None; without any the statistic says."""
        if small := self.why_small(events):
            return small
        return f"fewer than {_so_many(self.minimum_events, 'revision')}" if 0 < events < self.minimum_events else None

    def why_no_curve(self, events: int, coefficients: int) -> str | None:
        """Say why a curve of so many coefficients is withheld, or None: each needs the events of a ratio."""
        if small := self.why_small(events):
            return small
        least = self.minimum_events * coefficients
        each = f"{self.minimum_events} for each of {coefficients} coefficients"
        return f"fewer than {_so_many(least, 'revision')}, {each}" if events < least else None


def _so_many(number: int, noun: str) -> str:
    return f"{number} {noun}{'' if number == 1 else 's'}"
