"""
The catalogue of implants: every component in every size, with its number, and how to find it.
"""

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from synthetic_registry.implants import FOR_EVER, LONG_AGO, SIZES, Implants
from synthetic_registry.parameters import Parameters

SMALL_SIZES = 4  # of components that do not belong to one family, such as stems
BLOCK = 5 * SIZES  # numbers of a family: the two main components in two variants, inserts in one
BOTH = (("C", "cemented"), ("U", "cementless"))


@dataclass(frozen=True)
class Entry:
    """One component in one size and variant."""

    catalogue_no: str
    maker: str
    implant: str
    role: str
    class_name: str
    bearing: str
    constraint: str
    fixation: str
    size: str
    introduced: int  # years from the register's start
    withdrawn: int


@dataclass(frozen=True)
class Catalogue:
    """Numbers of entries: arithmetic finds a component, `entries` says what it is."""

    parameters: Parameters
    implants: Implants

    @property
    def main_roles(self) -> list[tuple[str, str]]:
        """Roles of a family's own components, with their letters: the two that name it, and the bearing."""
        return list(self.parameters.roles.items())[:3]

    @property
    def small_roles(self) -> list[tuple[str, str]]:
        """Roles of components that fit every family of a maker, with their letters."""
        return list(self.parameters.roles.items())[3:]

    def main(self, place: int, family: np.ndarray, size: np.ndarray, cementless: np.ndarray) -> np.ndarray:
        """Find components in one of the two main roles (place 0 or 1); int32."""
        return self._of_family(family, 2 * SIZES * place + 2 * (size.astype(np.int32) - 1) + cementless)

    def bearing(self, family: np.ndarray, size: np.ndarray) -> np.ndarray:
        """Find bearings, -1 in families where they are one piece with another component; int32."""
        found = self._of_family(family, 4 * SIZES + size.astype(np.int32) - 1)
        return np.where(self._one_piece[family], np.int32(-1), found)

    def small(self, role: str, family: np.ndarray, size: np.ndarray) -> np.ndarray:
        """Find components of a small role by the maker of a family; int32."""
        maker = self.implants.families.maker[family].astype(np.int32) - 1
        place = list(dict(self.small_roles)).index(role) * self.parameters.structure.makers + maker
        chosen = np.minimum((size.astype(np.int32) + 1) // 2, SMALL_SIZES) - 1
        return (len(self._one_piece) * BLOCK + place * SMALL_SIZES + chosen).astype(np.int32)

    def family(self, entry: np.ndarray) -> np.ndarray:
        """Find the family of components in main roles."""
        return entry // BLOCK

    def _of_family(self, family: np.ndarray, place: np.ndarray) -> np.ndarray:
        return (family.astype(np.int32) * BLOCK + place).astype(np.int32)

    @cached_property
    def _one_piece(self) -> np.ndarray:
        return np.array([bearing == "one-piece" for bearing in self.implants.families.bearing])

    def implant_code(self, family: int, letter: str) -> str:
        """Name a family of components in one role, as KF-017."""
        families = self.implants.families
        code = self.parameters.classes[families.joint_class[family]].code
        return f"{code}{letter}-{families.number[family]:03d}"

    @cached_property
    def entries(self) -> list[Entry]:
        """Every entry, in the order of its number. Bearings of one-piece families have a place but no use."""
        families = [entry for family in range(len(self._one_piece)) for entry in self._family_entries(family)]
        return families + self._small_entries()

    def _family_entries(self, family: int) -> list[Entry]:
        families = self.implants.families
        kept: dict[str, Any] = {
            "maker": f"M{families.maker[family]:02d}",
            "class_name": self.parameters.classes[families.joint_class[family]].name,
            "bearing": families.bearing[family],
            "constraint": families.constraint[family],
            "introduced": int(families.launch[family]),
        }
        found = []
        for place, (role, letter) in enumerate(self.main_roles):
            implant = self.implant_code(family, letter)
            # Bearings stay on the market as spare parts for those who have the rest.
            withdrawn = int(families.withdrawn[family]) if place < 2 else FOR_EVER
            variants = BOTH if place < 2 else (("A", ""),)
            for size in range(1, SIZES + 1):
                for variant, fixation in variants:
                    number = _numbered(implant, size, variant)
                    own: dict[str, Any] = {"implant": implant, "role": role, "fixation": fixation, "size": str(size)}
                    found.append(Entry(number, **kept, **own, withdrawn=withdrawn))
        return found

    def _small_entries(self) -> list[Entry]:
        first = self.parameters.classes[0]
        return [
            Entry(
                _numbered(f"{first.code}{letter}-{maker:03d}", size, "C"),
                f"M{maker:02d}",
                f"{first.code}{letter}-{maker:03d}",
                role,
                first.name,
                *("", "", "cemented"),
                size=str(size),
                introduced=LONG_AGO,
                withdrawn=FOR_EVER,
            )
            for role, letter in self.small_roles
            for maker in range(1, self.parameters.structure.makers + 1)
            for size in range(1, SMALL_SIZES + 1)
        ]


def _numbered(implant: str, size: int, variant: str) -> str:
    """
    Write a catalogue number.

    >>> _numbered("KF-017", 5, "C")
    'KF017-5C'
    """
    return f"{implant.replace('-', '')}-{size}{variant}"
