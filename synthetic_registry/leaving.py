"""
How patients leave follow-up other than by revision: death, loss, and the register's last day.
Death and loss start with the patient's last primary, since whoever has a primary is alive and present.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from regdash import vocabulary as words
from synthetic_registry.joints import Joints
from synthetic_registry.parameters import DAYS_A_YEAR, Death, Parameters
from synthetic_registry.setting import Setting

NEVER = 2**30  # days


@dataclass(frozen=True)
class Leaving:
    """Hazards of leaving, one entry a joint; days count from the joint's own implantation."""

    death: Death
    loss_rate: float  # a day
    coefficient: np.ndarray  # of the joint's patient: deaths a year at the patient's last primary
    gap: np.ndarray  # days to the patient's last primary
    admin_day: np.ndarray  # the register's last day

    def of(self, at: np.ndarray) -> "Leaving":
        """Choose some joints."""
        return Leaving(self.death, self.loss_rate, self.coefficient[at], self.gap[at], self.admin_day[at])

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
        since = float(death_integral(self.death, np.array(day / DAYS_A_YEAR)))
        total = self.coefficient[:count] * since
        total += self.loss_rate * day
        late = self._waiting[: np.searchsorted(self._waiting, len(total))]
        rest = np.maximum(day - self.gap[late], 0)
        total[late] = self.coefficient[late] * death_integral(self.death, rest / DAYS_A_YEAR) + self.loss_rate * rest
        return total


def death_integral(death: Death, years: np.ndarray) -> np.ndarray:
    """
    Integrate the hazard of death since the last primary, relative to the hazard at that primary.

    The hazard grows by a constant factor a year (Gompertz), times `first_year` in the first one.
    """
    grown = np.expm1(death.growth * years) / death.growth
    one = np.expm1(death.growth) / death.growth
    return np.where(years <= 1, death.first_year * grown, grown - (1 - death.first_year) * one)


def _inverse(death: Death, integral: np.ndarray) -> np.ndarray:
    """Find the years at which the integral of the hazard of death reaches a value."""
    one = np.expm1(death.growth) / death.growth
    early = np.log1p(death.growth * integral / death.first_year) / death.growth
    late = np.log1p(death.growth * (integral + (1 - death.first_year) * one)) / death.growth
    return np.where(integral <= death.first_year * one, early, late)


@dataclass(frozen=True)
class Exits:
    """When patients die or are lost, one entry a patient; days from the register's first, NEVER if long after."""

    death_day: np.ndarray
    loss_day: np.ndarray
    loss: np.ndarray  # position in the vocabulary's list of losses


def last_joints(joints: Joints) -> np.ndarray:
    """Find each patient's last primary; (patients,) positions among the joints."""
    patient = joints.primaries.patient
    last = np.zeros(joints.primaries.patients, np.int64)
    np.maximum.at(last, patient, np.arange(len(patient)))  # second sides come after all firsts
    return last


def leaving(parameters: Parameters, setting: Setting, joints: Joints) -> Leaving:
    """Find how likely each joint's patient is to leave."""
    last = last_joints(joints)
    at_65 = np.array([parameters.death.hazard_at_65.get(word, 0.0) for word in words.SEXES])
    by_asa = np.array([parameters.death.asa.get(word, 1.0) for word in words.ASA_CLASSES])
    age = joints.age[last].astype(float)
    coefficient = at_65[joints.sex[last]] * np.exp(parameters.death.growth * (age - 65)) * by_asa[joints.asa[last]]
    return Leaving(
        death=parameters.death,
        loss_rate=sum(parameters.loss.values()) / DAYS_A_YEAR,
        coefficient=coefficient[joints.primaries.patient],
        gap=joints.primaries.gap,
        admin_day=(setting.days.last - joints.primaries.day).astype(np.int32),
    )


def draw_exits(rng: np.random.Generator, parameters: Parameters, joints: Joints, leave: Leaving) -> Exits:
    """Draw each patient's death and loss."""
    last = last_joints(joints)
    years = _inverse(leave.death, rng.standard_exponential(len(last)) / leave.coefficient[last])
    loss = rng.standard_exponential(len(last)) / leave.loss_rate
    since = joints.primaries.day[last]
    rates = np.array([parameters.loss[word] for word in words.LOSSES])
    return Exits(
        death_day=_day(since, years * DAYS_A_YEAR),
        loss_day=_day(since, loss),
        loss=(rng.random(len(last)) * rates.sum() >= rates[0]).astype(np.uint8),
    )


def _day(since: np.ndarray, days: np.ndarray) -> np.ndarray:
    """Add days to a day, whole ones."""
    return (since + np.minimum(np.floor(days), NEVER // 2)).astype(np.int32)
