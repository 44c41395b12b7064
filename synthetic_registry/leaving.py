"""
How patients leave follow-up other than by revision: death, loss, and the register's last day.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from synthetic_registry.parameters import DAYS_A_YEAR, Death

NEVER = 2**30  # days


@dataclass(frozen=True)
class Exits:
    """When patients die or are lost, one entry a patient; days from the register's first, NEVER if long after."""

    death_day: np.ndarray
    loss_day: np.ndarray
    loss: np.ndarray  # position in the vocabulary's list of losses


@dataclass(frozen=True)
class Leaving:
    """Hazards of leaving, one entry a joint; days count from the joint's own implantation."""

    death: Death
    loss_rate: float  # a day
    coefficient: np.ndarray  # of the joint's patient: deaths a year at the patient's last primary
    first_year: np.ndarray  # factor in the year after that primary
    gap: np.ndarray  # days to the patient's last primary
    admin_day: np.ndarray  # the register's last day

    def of(self, at: np.ndarray) -> "Leaving":
        """Choose some joints."""
        return Leaving(
            self.death,
            self.loss_rate,
            *(values[at] for values in (self.coefficient, self.first_year, self.gap, self.admin_day)),
        )

    @cached_property
    def _waiting(self) -> np.ndarray:
        """Positions of joints whose patients had another primary later."""
        return np.flatnonzero(self.gap > 0)

    def integral(self, day: float, count: int | None = None) -> np.ndarray:
        """
        Integrate the hazards of death and loss up to the start of a day.

        Args:
            day: days since implantation, the same for all.
            count: only the first so many joints.

        Returns:
            One value a joint; exp(-value) is its probability to be alive and not lost at the start of the day.
        """
        early, later = _parts(self.death, np.array(day / DAYS_A_YEAR))
        total = self.first_year[:count] * float(early)
        total += float(later)
        total *= self.coefficient[:count]
        total += self.loss_rate * day
        late = self._waiting[: np.searchsorted(self._waiting, len(total))]
        rest = np.maximum(day - self.gap[late], 0)
        since = death_integral(self.death, rest / DAYS_A_YEAR, self.first_year[late])
        total[late] = self.coefficient[late] * since + self.loss_rate * rest
        return total


def _parts(death: Death, years: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Integrate the growing hazard of death over the first year, and after it."""
    grown = np.expm1(death.growth * years) / death.growth
    one = np.expm1(death.growth) / death.growth
    early = np.minimum(grown, one)
    return early, grown - early


def death_integral(death: Death, years: np.ndarray, first_year: np.ndarray | float | None = None) -> np.ndarray:
    """
    Integrate the hazard of death since the last primary, relative to the hazard at that primary.

    The hazard grows by a constant factor a year (Gompertz), times `first_year` in the first one.
    """
    early, later = _parts(death, years)
    return (death.first_year if first_year is None else first_year) * early + later


def inverse(death: Death, integral: np.ndarray, first_year: np.ndarray) -> np.ndarray:
    """Find the years at which the integral of the hazard of death reaches a value."""
    one = np.expm1(death.growth) / death.growth
    early = np.log1p(death.growth * integral / first_year) / death.growth
    late = np.log1p(death.growth * np.maximum(integral + (1 - first_year) * one, 0)) / death.growth
    return np.where(integral <= first_year * one, early, late)
