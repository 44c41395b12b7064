"""
The registers of several kinds of joints as one: their joints one after the other, their catalogues likewise.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from regdash import vocabulary as words
from synthetic_registry.catalogue import Catalogue, Entry
from synthetic_registry.joints import Joints
from synthetic_registry.leaving import Exits
from synthetic_registry.operation_days import OperationDays
from synthetic_registry.parameters import Dirt, Reporting
from synthetic_registry.people import count_patients
from synthetic_registry.register import Register

HEIGHT = {"male": (176.0, 7.0), "female": (163.0, 6.5)}  # mean and SD, cm


@dataclass(frozen=True)
class Several:
    """Registers on the same hospitals, surgeons and patients. Arrays hold the joints of all, register by register."""

    registers: tuple[Register, ...]

    @property
    def days(self) -> OperationDays:
        """The calendar; growth and seasons aside it is the same for all."""
        return self.registers[0].setting.days

    @property
    def dirt(self) -> Dirt:
        """Rates of faults."""
        return self.registers[0].setting.parameters.dirt

    @property
    def reporting(self) -> Reporting:
        """When and how records come; changes of the form are each register's own."""
        return self.registers[0].setting.parameters.reporting

    @property
    def hospitals(self) -> list[str]:
        """Codes of the hospitals."""
        return self.registers[0].setting.units.hospitals.codes

    @property
    def surgeons(self) -> list[str]:
        """Codes of the surgeons."""
        return self.registers[0].setting.units.surgeons.codes

    @property
    def exits(self) -> Exits:
        """When each patient dies or is lost."""
        return self.registers[0].lives.exits

    @property
    def joints(self) -> tuple[Joints, ...]:
        """The joints of each register."""
        return tuple(register.joints for register in self.registers)

    def stream(self, part: str) -> np.random.Generator:
        """Open the random stream of one part of the work on all of them."""
        return self.registers[0].setting.stream(part)

    @cached_property
    def patients(self) -> int:
        """How many patients there are."""
        return count_patients(self.joints)

    @cached_property
    def catalogues(self) -> tuple[Catalogue, ...]:
        """The catalogue of each kind of joint."""
        return tuple(Catalogue(own.setting.parameters, own.setting.implants) for own in self.registers)

    @cached_property
    def entries(self) -> list[Entry]:
        """All entries of all catalogues."""
        return [entry for catalogue in self.catalogues for entry in catalogue.entries]

    @cached_property
    def entry_starts(self) -> np.ndarray:
        """Position of each catalogue's first entry among all, and their number."""
        return np.append(0, np.cumsum([len(catalogue.entries) for catalogue in self.catalogues]))

    @cached_property
    def entry_limb(self) -> np.ndarray:
        """Kind of joint of each entry, as position among the registers."""
        return np.repeat(np.arange(len(self.registers)), np.diff(self.entry_starts))

    @cached_property
    def starts(self) -> np.ndarray:
        """Position of each register's first joint among all, and their number."""
        return np.append(0, np.cumsum([own.setting.count for own in self.registers]))

    @cached_property
    def limb(self) -> np.ndarray:
        """Kind of each joint, as position in the vocabulary's joints; uint8."""
        kinds = np.array([words.JOINTS.index(own.joint) for own in self.registers], np.uint8)
        return np.repeat(kinds, np.diff(self.starts))

    @cached_property
    def registered(self) -> np.ndarray:
        """Whether each joint's primary is in the register."""
        counts = [(own.joints.primaries.registered, own.setting.count) for own in self.registers]
        return np.concatenate([np.arange(count) < registered for registered, count in counts])

    def column(self, name: str) -> np.ndarray:
        """Find what is true of each joint at its primary."""
        where = [joints if hasattr(joints, name) else joints.primaries for joints in self.joints]
        return np.concatenate([getattr(own, name) for own in where])

    @cached_property
    def height(self) -> np.ndarray:
        """Height of each patient, whole cm; int16."""
        sex = np.zeros(self.patients, np.uint8)
        for joints in self.joints:
            sex[joints.primaries.patient] = joints.sex
        mean, sd = (np.array([HEIGHT.get(word, HEIGHT["female"])[part] for word in words.SEXES]) for part in (0, 1))
        normal = self.stream("heights").standard_normal(self.patients)
        return np.clip(np.rint(mean[sex] + sd[sex] * normal), 140, 205).astype(np.int16)
