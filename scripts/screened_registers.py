"""
Synthetic registers straight in the pools that a screen compares, and what is true of each unit.

It leaves out files, receiving and freezing; on a clean register the screen's answer is the same, which
`tests/scripts/test_screened_registers.py` holds.
"""

from collections.abc import Collection
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from regdash.signals.joints import ScreenedJoints, pools_of
from regdash.signals.model import IMPLANTS, SIZES
from regdash.signals.pool import Pool, Window
from regdash.signals.units import Units
from regdash.vocabulary import ENDINGS, ROLES
from synthetic_registry.catalogue import NONE
from synthetic_registry.parts import primary_parts
from synthetic_registry.register import Register
from synthetic_registry.several import Several

REVISED = ENDINGS.index("revised")


@dataclass(frozen=True, eq=False)
class Truth:
    """What is true of the units of one pool in one window; (units,) each, NaN where there is nobody to compare with."""

    ratio: np.ndarray  # revisions due by their own joints' hazards over those due by the hazards of all others
    due: np.ndarray  # the latter, in the same strata and at the same time since implantation


@dataclass(frozen=True, eq=False)
class ScreenedRegister:
    """Registers of one or more kinds of joints, as a cut of everything would hold them."""

    several: Several

    @classmethod
    def of(cls, registers: tuple[Register, ...]) -> "ScreenedRegister":
        """Take registers that were simulated together."""
        return cls(Several(registers))

    @cached_property
    def joints(self) -> ScreenedJoints:
        """All registered joints, by age band and sex."""
        registers = self.several.registers
        several = len(registers) > 1
        classes = [[f"{c}{f' {own.joint}' if several else ''}" for c in own.joints.classes] for own in registers]
        starts = np.cumsum([0, *map(len, classes)])
        kind = [own.covariate("class")[0].astype(np.int64) + start for own, start in zip(registers, starts)]
        band, sex = (np.concatenate([own.covariate(name)[0] for own in registers]) for name in ("age_band", "sex"))
        sexes = len(registers[0].covariate("sex")[1])
        days = np.concatenate([own.days for own in registers]).astype(np.int64)
        return ScreenedJoints(
            joint_no=np.arange(len(days)),
            kind=np.concatenate(kind),
            classes=tuple(name for names in classes for name in names),
            construct=np.concatenate([own.joints.construct[: len(own.days)] for own in registers]).astype(np.int64),
            day=days,
            revised=np.concatenate([own.ended for own in registers]) == REVISED,
            stratum=band.astype(np.int64) * sexes + sex,
            left_out=(),
        )

    @cached_property
    def withdrawn_years(self) -> dict[str, int]:
        """With the end of which year of the register the last entry of each implant is withdrawn, from 1."""
        found: dict[str, int] = {}
        for entry in self.several.entries:
            if entry.used:
                found[entry.implant] = max(found.get(entry.implant, entry.withdrawn), entry.withdrawn)
        return found

    def withdrawn(self, years: int | None = None) -> set[str]:
        """Implants known as withdrawn when the register is so many years old: the office hears of it a year later."""
        until = self.several.days.years if years is None else years
        return {implant for implant, year in self.withdrawn_years.items() if year < until}

    def units(self, kind: str) -> Units:
        """The implants of all primaries, or their sizes."""
        entries, roles = self.several.entries, tuple(dict.fromkeys(role for of in ROLES.values() for role in of))
        names = {IMPLANTS: "{0.implant}", SIZES: "{0.implant} size {0.size}"}
        codes, of_entry = np.unique([names[kind].format(entry) for entry in entries], return_inverse=True)
        role_of = np.array([roles.index(entry.role) for entry in entries])
        joint_no, role, unit = [], [], []
        first = 0
        for number, own in enumerate(self.several.registers):
            at = np.arange(len(own.days))
            parts = primary_parts(own.joints, self.several.catalogues[number], at)
            for column in parts.T:
                rows = np.flatnonzero(column != NONE)
                entry = column[rows] + self.several.entry_starts[number]
                joint_no.append(rows + first)
                role.append(role_of[entry])
                unit.append(of_entry[entry])
            first += len(at)
        implants = tuple((code.split(" ")[0],) for code in codes.tolist())
        lines = (np.concatenate(one) for one in (joint_no, role, unit))
        return Units(tuple(codes.tolist()), implants, roles, *lines)

    def pools(self, kind: str = IMPLANTS, apart: Collection[str] | None = None) -> list[Pool]:
        """The pools of a screen of a kind; who is in no comparison group is who was withdrawn, unless given."""
        return pools_of(self.joints, self.units(kind), self.withdrawn() if apart is None else apart)

    @cached_property
    def hazard(self) -> np.ndarray:
        """(intervals, n) each joint's true hazard of a revision, a day."""
        found = np.zeros((len(self.starts), len(self.joints.joint_no)))
        first = 0
        for own in self.several.registers:
            count = len(own.days)
            for of_class in own.hazards:
                here = of_class.at < count
                found[:, first + of_class.at[here]] = of_class.rate[:, here]
            first += count
        return found

    @cached_property
    def starts(self) -> np.ndarray:
        """(intervals,) days since implantation on which hazards change; the first is 0."""
        return self.several.registers[0].hazards[0].starts

    def truth(self, pool: Pool, window: Window) -> Truth:
        """
        Say how much more often the units of a pool are due to be revised than all others that are alike.

        It is of the hazards that joints have, whatever they have them from: patients, surgeon, hospital or implant,
        since that is what a screen compares.
        """
        units, strata = len(pool.codes), int(pool.stratum.max(initial=0)) + 1
        own, due, inside = np.zeros(units), np.zeros(units), pool.comparable
        ends = np.append(self.starts[1:], np.iinfo(np.int64).max)
        first, last = max(window.start, 0), ends[-1] if window.stop is None else window.stop
        key = pool.unit * strata + pool.stratum
        for hazard, start, end in zip(self.hazard, np.maximum(self.starts, first), np.minimum(ends, last)):
            spent = np.clip(pool.day - start, 0, max(end - start, 0)).astype(float)
            hits = spent * hazard[pool.joint_no]
            time, events = (np.bincount(key, each, units * strata).reshape(units, -1) for each in (spent, hits))
            all_time, all_events = (np.bincount(pool.stratum[inside], each[inside], strata) for each in (spent, hits))
            counted = np.logical_not(pool.apart)[:, None]
            other_time, other_events = all_time - time * counted, all_events - events * counted
            some = other_time > 0.5
            own += (events * some).sum(axis=1)
            due += np.divide(time * other_events, other_time, out=np.zeros_like(time), where=some).sum(axis=1)
        ratio = np.divide(own, due, out=np.full(units, np.nan), where=due > 0)
        return Truth(ratio, due)
