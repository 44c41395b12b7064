"""
The catalogue of implants of one joint: every component in every size, with its number, and how to find it.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from regdash import vocabulary as words
from synthetic_registry.implants import FOR_EVER, LONG_AGO, Implants
from synthetic_registry.parameters import BONE_FIXED, CEMENTED, CEMENTLESS, PLAIN, Parameters, Variant

SMALL_SIZES = 4  # of components that do not belong to one family, such as stems
SMALL_BLOCK = SMALL_SIZES * len(BONE_FIXED)
BEARING_MATERIAL = ("head", "hemi head", "resurfacing head", "one-piece cup", "liner", "dual-mobility bearing")
NONE = -1


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
    material: str
    size: str
    side: str
    introduced: int  # years from the register's start
    withdrawn: int
    used: bool = True  # some have a number and are never made


@dataclass(frozen=True)
class Catalogue:
    """Numbers of entries: arithmetic finds a component, `entries` says what it is."""

    parameters: Parameters
    implants: Implants

    def at(self, place: int, family: np.ndarray, size: np.ndarray, variant: np.ndarray) -> np.ndarray:
        """Find components in one of the four places by size and variant from 0; int32, NONE where there is none."""
        kind = self.implants.families.joint_class[family]
        sizes, variants, offset, _ = self._layout
        number = self._base[family] + offset[kind, place]
        number += np.minimum(size, np.maximum(sizes[kind, place] - 1, 0)) * variants[kind, place]
        number += np.minimum(variant, variants[kind, place] - 1)
        return np.where(self._made[family, place], number, NONE).astype(np.int32)

    def small(self, role: str, family: np.ndarray, size: np.ndarray, variant: np.ndarray | int = 0) -> np.ndarray:
        """Find components of a small role by the maker of a family; int32."""
        maker = self.implants.families.maker[family].astype(np.int32) - 1
        place = self.parameters.small.index(role) * self.parameters.structure.makers + maker
        chosen = np.minimum((size.astype(np.int32) + 1) // 2, SMALL_SIZES) - 1
        return (int(self._base[-1]) + place * SMALL_BLOCK + chosen * len(BONE_FIXED) + variant).astype(np.int32)

    def family(self, entry: np.ndarray) -> np.ndarray:
        """Find the family of components of their own; -1 where there is no component."""
        return np.searchsorted(self._base, entry, side="right") - 1

    @cached_property
    def _layout(self) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
        """Sizes, variants and first number of each place, (classes, places), and how many numbers a family has."""
        places = [kind.places for kind in self.parameters.classes]
        sizes = np.array([[len(place.sizes) for place in of_class] for of_class in places])
        variants = np.array([[len(place.variants) for place in of_class] for of_class in places])
        ends = np.cumsum(sizes * variants, axis=1)
        return sizes, variants, ends - sizes * variants, ends[:, -1]

    @cached_property
    def _base(self) -> np.ndarray:
        """First number of each family, and of the small components."""
        return np.append(0, np.cumsum(self._layout[3][self.implants.families.joint_class])).astype(np.int64)

    @cached_property
    def _made(self) -> np.ndarray:
        """Whether each family has a component in each place; (families, places) bool."""
        return np.array([[bool(role) for role in roles] for roles in self.implants.families.roles])

    def first_letter(self, family: int, place: int) -> str:
        """Find the letter of a family's role in a place; empty where it has none."""
        return self.parameters.roles.get(self.implants.families.roles[family][place], "")

    def implant_code(self, family: int, place: int) -> str:
        """Name a family's component in one place, as KF-017; empty where it has none."""
        families, letter = self.implants.families, self.first_letter(family, place)
        code = self.parameters.classes[families.joint_class[family]].code
        return f"{code}{letter}-{families.number[family]:03d}" if letter else ""

    @cached_property
    def roles(self) -> np.ndarray:
        """Role of each entry, as position in the joint's roles; uint8."""
        return np.array([words.ROLES[self.parameters.joint].index(entry.role) for entry in self.entries], np.uint8)

    @cached_property
    def cemented(self) -> np.ndarray:
        """Whether each entry goes in with cement."""
        return np.array([entry.fixation == "cemented" for entry in self.entries])

    @cached_property
    def grid(self) -> np.ndarray:
        """For each entry: its size from 0, of how many, and how many entries further the next size is; (entries, 3)."""
        sizes, variants, _, _ = self._layout
        rows = []
        for kind in self.implants.families.joint_class:
            for of_sizes, of_variants in zip(sizes[kind], variants[kind]):
                place = np.repeat(np.arange(of_sizes), of_variants)
                rows.append(np.column_stack([place, np.full_like(place, of_sizes), np.full_like(place, of_variants)]))
        rows.append(np.tile([0, 1, 1], (len(self._small_entries()), 1)))
        return np.concatenate(rows).astype(np.int32)

    @cached_property
    def entries(self) -> list[Entry]:
        """Every entry, in the order of its number."""
        families = range(len(self.implants.families.number))
        return [entry for family in families for entry in self._family_entries(family)] + self._small_entries()

    def _family_entries(self, family: int) -> list[Entry]:
        kind = self.parameters.classes[self.implants.families.joint_class[family]]
        return [
            self._entry(family, place, size, variant)
            for place, what in enumerate(kind.places)
            for size in what.sizes
            for variant in what.variants
        ]

    def _entry(self, family: int, place: int, size: str, variant: Variant) -> Entry:
        """Describe one family's component in one place, size and variant."""
        families, implant = self.implants.families, self.implant_code(family, place)
        kind, role = self.parameters.classes[families.joint_class[family]], families.roles[family][place]
        return Entry(
            catalogue_no=_numbered(implant, size, variant.letter) if role else "",
            maker=f"M{families.maker[family]:02d}",
            implant=implant,
            role=role or next(iter(self.parameters.roles)),
            class_name=kind.name,
            # Where first components go with any other, they and their heads say nothing of the bearing.
            bearing="" if kind.pairs_across and place in (0, 3) else families.bearing[family],
            constraint=families.constraint[family],
            fixation=variant.fixation,
            material=variant.material if role in BEARING_MATERIAL else "",
            size=size,
            side=variant.side,
            introduced=int(families.launch[family]),
            # Bearings stay on the market as spare parts for those who have the rest.
            withdrawn=int(families.withdrawn[family]) if place < 2 else FOR_EVER,
            used=self._is_made(family, place, role, variant),
        )

    def _is_made(self, family: int, place: int, role: str, variant: Variant) -> bool:
        """Say whether a family makes a variant: on one side only or for both, shells without a bearing's material."""
        sided = bool(self.implants.families.sided[family]) and place == 0
        if not role or bool(variant.side) != (sided and len(self._variants(family, place)) > len(BONE_FIXED)):
            return False
        if role == "shell":
            return variant.fixation == "cementless"
        return role != "one-piece cup" or bool(variant.material)

    def _variants(self, family: int, place: int) -> tuple[Variant, ...]:
        return self.parameters.classes[self.implants.families.joint_class[family]].places[place].variants

    def _small_entries(self) -> list[Entry]:
        makers = range(1, self.parameters.structure.makers + 1)
        return [
            self._small_entry(role, maker, str(size), variant)
            for role in self.parameters.small
            for maker in makers
            for size in range(1, SMALL_SIZES + 1)
            for variant in ((*PLAIN, CEMENTLESS) if role == "cement" else BONE_FIXED)
        ]

    def _small_entry(self, role: str, maker: int, size: str, variant: Variant) -> Entry:
        """Describe one maker's small component; only patellar ones come without cement as well."""
        first, cement = self.parameters.classes[0], role == "cement"
        implant = f"{first.code}{self.parameters.roles[role]}-{maker:03d}"
        return Entry(
            catalogue_no=_numbered(implant, size, variant.letter),
            maker=f"M{maker:02d}",
            implant=implant,
            role=role,
            class_name="" if cement else first.name,
            **dict.fromkeys(("bearing", "constraint", "material", "side"), ""),
            fixation=variant.fixation,
            size="" if cement else size,
            introduced=LONG_AGO,
            withdrawn=FOR_EVER,
            used=variant in (CEMENTED, *PLAIN) or role == "patellar",
        )


def _numbered(implant: str, size: str, letter: str) -> str:
    """
    Write a catalogue number.

    >>> _numbered("KF-017", "5", "C")
    'KF017-5C'
    """
    return f"{implant.replace('-', '')}-{size}{letter}"


def gtin(joint: str, maker: str, entry: int) -> str:
    """
    Write the trade item number of an entry, in the range that is kept free for use within one house.

    >>> gtin("knee", "M03", 17)
    '02031000000170'
    """
    digits = f"02{maker[1:]}{words.JOINTS.index(joint) + 1}{entry:08d}"
    return digits + check_digit(digits)


def check_digit(digits: str) -> str:
    """
    Work out the check digit of 13 digits: weights 3, 1, 3, 1… from the right.

    >>> check_digit("0629104150021"), check_digit("0000002345678")
    ('3', '5')
    """
    total = sum(int(digit) * (3 if place % 2 == 0 else 1) for place, digit in enumerate(reversed(digits)))
    return str(-total % 10)
