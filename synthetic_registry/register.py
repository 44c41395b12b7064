"""
A register in memory: every joint of one kind with its true life, without files, dirt or delay.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from synthetic_registry.curves import STEP, TrueCurve, true_curves
from synthetic_registry.hazards import ClassHazards
from synthetic_registry.joints import Joints
from synthetic_registry.leaving import Leaving
from synthetic_registry.lives import Lives, draw_lives
from synthetic_registry.people import draw_exits
from synthetic_registry.setting import Setting
from synthetic_registry.streams import stream


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
    def joint(self) -> str:
        """The kind of joint."""
        return self.setting.parameters.joint

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
        rng = stream(self.setting.seed, self.setting.parameters.stream(f"lives {number}"))
        exits = draw_exits(rng, [self.setting], [self.joints])
        return draw_lives(rng, self.joint, self.joints, self.hazards, self.leave, exits)
