"""
A register in memory: every joint with its true life, without files, dirt or delay.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from functools import cached_property

import numpy as np

from synthetic_registry.curves import STEP, TrueCurve, true_curves
from synthetic_registry.hazards import ClassHazards, hazards
from synthetic_registry.implants import make_implants
from synthetic_registry.joints import Joints, draw_joints
from synthetic_registry.knee import KNEE
from synthetic_registry.leaving import Leaving, draw_exits, leaving
from synthetic_registry.lives import Lives, draw_lives
from synthetic_registry.operation_days import OperationDays
from synthetic_registry.parameters import Parameters
from synthetic_registry.patients import draw_primaries
from synthetic_registry.setting import Setting
from synthetic_registry.streams import stream
from synthetic_registry.units import make_units

THROUGH = date(2024, 12, 31)


@dataclass(frozen=True)
class Register:
    """All joints and how they fared. The arrays named here hold the registered joints only, one entry each."""

    setting: Setting
    joints: Joints
    leave: Leaving
    hazards: list[ClassHazards]
    lives: Lives

    @property
    def _registered(self) -> slice:
        return slice(0, self.joints.primaries.registered)

    @property
    def days(self) -> np.ndarray:
        """Whole days followed since implantation; int32."""
        return self.lives.days[self._registered]

    @property
    def ended(self) -> np.ndarray:
        """How follow-up ended, as position in `vocabulary.ENDINGS`; uint8."""
        return self.lives.ended[self._registered]

    @property
    def reason_group(self) -> np.ndarray:
        """Position in the joint's `vocabulary.REASON_GROUPS` where revised, else 255; uint8."""
        return self.lives.reason_group[self._registered]

    def covariate(self, name: str) -> tuple[np.ndarray, tuple[str, ...]]:
        """Find a covariate, as positions and the words they stand for: class, age_band, bearing, sex, technology…"""
        codes, listed = self.joints.covariate(name)
        return codes[self._registered], listed

    @cached_property
    def class_curves(self) -> dict[str, TrueCurve]:
        """The true curves of each class."""
        return {curve.stratum["class"]: curve for curve in self.curves()}

    def curves(self, *by: str, step: int = STEP) -> list[TrueCurve]:
        """Work out the true curves of each class, by further covariates if wished; see `true_curves`."""
        return self.curve_sets([by], step)

    def curve_sets(self, groupings: Sequence[Sequence[str]], step: int = STEP) -> list[TrueCurve]:
        """Work out the true curves of several groupings in one go."""
        return true_curves(self.joints, self.hazards, self.leave, groupings, step)

    def lived_again(self, number: int) -> Lives:
        """Draw other lives for the same joints, for telling chance from truth; each number draws anew."""
        return _live(self.setting, self.joints, self.leave, self.hazards, f"lives {number}")


def simulate(
    joints: int = 20_000,
    seed: int = 1,
    *,
    through: date = THROUGH,
    parameters: Parameters = KNEE,
    prior: bool = False,
) -> Register:
    """
    Simulate a register in memory.

    Args:
        joints: how many primary joints it holds, at least 500.
        seed: the same seed gives the same register.
        through: the last day of follow-up, at least one year after the register's start.
        parameters: what it is made from.
        prior: with joints from before the register's start, which follow the registered ones in `joints` and
            `lives`. With them it is the very register that `make` writes for this size and seed.

    Raises:
        ValueError: too few joints, or too short a time.
    """
    if joints < 500:
        raise ValueError(f"A register needs at least 500 joints to look like one; {joints} were asked for.")
    days = OperationDays(parameters.start, through, parameters.structure)
    if days.last < 365:
        raise ValueError(f"A register must last a year; from {parameters.start} to {through} is too short.")
    setting = Setting(
        parameters=parameters,
        days=days,
        units=make_units(parameters, days, joints, seed),
        implants=make_implants(parameters, days, joints, seed),
        primaries=draw_primaries(parameters, days, joints, seed, prior=prior),
        seed=seed,
    )
    drawn = draw_joints(setting)
    leave = leaving(parameters, setting, drawn)
    classes = hazards(setting, drawn, leave)
    return Register(setting, drawn, leave, classes, _live(setting, drawn, leave, classes, "lives"))


def _live(setting: Setting, joints: Joints, leave: Leaving, classes: list[ClassHazards], part: str) -> Lives:
    rng = stream(setting.seed, part)
    exits = draw_exits(rng, setting.parameters, joints, leave)
    return draw_lives(rng, setting.parameters.joint, joints, classes, leave, exits)
