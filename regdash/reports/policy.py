"""When a figure is withheld, and why in words. The statistics never withhold; reports do, all by this one policy."""

from dataclasses import dataclass
from typing import Any

from regdash.stats.years import DAYS_PER_YEAR


@dataclass(frozen=True)
class Policy:
    """What must be met before an estimate is shown."""

    minimum_at_risk: int = 40  # one more revision among 40 moves the proportion not revised by a fortieth of itself
    level: float = 0.95  # of all limits
    minimum_in_stratum: int = 10  # of a standardised risk, whose error a stratum without revisions adds nothing to

    @property
    def settings(self) -> dict[str, Any]:
        """As recorded in the head of every report."""
        return {
            "minimum_at_risk": self.minimum_at_risk,
            "minimum_in_stratum": self.minimum_in_stratum,
            "confidence_level": self.level,
        }

    def why_not_at(self, day: int, at_risk: int, last_day: int | None) -> str | None:
        """
        Say why an estimate at a time is withheld, or None.

        Args:
            day: whole days since implantation.
            at_risk: joints whose follow-up reaches that day.
            last_day: the longest follow-up in the group; None where it has no joint.
        """
        if last_day is None:
            return "no joints"
        if day > last_day:
            return f"not reached: the longest follow-up is {last_day / DAYS_PER_YEAR:.1f} years"
        if at_risk < self.minimum_at_risk:
            return f"fewer than {self.minimum_at_risk} joints at risk"
        return None

    def why_no_rate(self, joints: int) -> str | None:
        """Say why a rate is withheld, or None."""
        return f"fewer than {self.minimum_at_risk} joints" if joints < self.minimum_at_risk else None
