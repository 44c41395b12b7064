"""
The components in a joint: what a primary puts in, and what revisions take out and put in.
"""

from dataclasses import dataclass

import numpy as np

from regdash import vocabulary as words
from synthetic_registry.catalogue import NONE, Catalogue
from synthetic_registry.joints import Joints, free

# Places for components in one joint: the two that name a construct, the bearing, a fourth (in a knee the patellar
# component, which goes in or not; else head or glenosphere), and the first three once more for a second device.
FIRST, OTHER, BEARING, OPTIONAL = range(4)
SECOND_DEVICE = slice(4, 7)
PLACES = 7


@dataclass(frozen=True)
class Fit:
    """What decides the sizes and variants of a joint's components; one entry a joint."""

    first_size: np.ndarray
    other_size: np.ndarray
    side: np.ndarray
    head: np.ndarray
    head_material: np.ndarray
    liner_material: np.ndarray
    first_free: np.ndarray  # bool: put in without cement
    other_free: np.ndarray
    with_optional: np.ndarray  # bool: with a component of the optional role

    def of(self, at: np.ndarray) -> "Fit":
        """Choose some joints."""
        return Fit(*(values[at] for values in vars(self).values()))


def fit(joints: Joints, catalogue: Catalogue, at: np.ndarray) -> Fit:
    """Find what fits some joints at their primaries."""
    parameters, fixation = catalogue.parameters, joints.fixation[at]
    return Fit(
        joints.first_size[at],
        joints.other_size[at],
        joints.side[at],
        joints.head[at],
        joints.head_material[at],
        joints.liner_material[at],
        free(fixation, parameters.first_free),
        free(fixation, parameters.other_free),
        joints.patella[at] == words.PATELLAS.index("resurfaced"),
    )


def primary_parts(joints: Joints, catalogue: Catalogue, at: np.ndarray) -> np.ndarray:
    """Find what the primaries of some joints put in; (n, places) catalogue entries, -1: nothing."""
    return construct_parts(catalogue, joints.construct[at], fit(joints, catalogue, at))


def construct_parts(catalogue: Catalogue, construct: np.ndarray, fits: Fit) -> np.ndarray:
    """Find the components of constructs, in the sizes that fit; (n, places) int32 entries, -1: nothing."""
    implants = catalogue.implants
    first, other = implants.constructs.first[construct], implants.constructs.other[construct]
    kinds = catalogue.parameters.classes
    kind = implants.constructs.joint_class[construct]
    headed = np.array([bool(kind.head_sizes) for kind in kinds])[kind]
    fourth = np.where(np.array([kind.fourth_of == "other" for kind in kinds])[kind], other, first)
    first_size, other_size = fits.first_size.astype(np.int32) - 1, fits.other_size.astype(np.int32) - 1
    sided = implants.families.sided[first] * (2 + 2 * fits.side.astype(np.int32))
    # A one-piece cup slides itself: its variants are what it is made of.
    cup = implants.one_piece_cup[other]
    cup_variant = np.where(fits.liner_material == 0, 2, 0)
    liner_size = np.where(headed, fits.head, other_size)
    parts = np.full((len(construct), PLACES), NONE, np.int32)
    first_free = fits.first_free | implants.loose[0][first]
    other_free = fits.other_free | implants.loose[1][other]
    parts[:, FIRST] = catalogue.at(FIRST, first, first_size, first_free + sided)
    parts[:, OTHER] = catalogue.at(OTHER, other, other_size, np.where(cup, cup_variant, other_free))
    parts[:, BEARING] = catalogue.at(BEARING, other, liner_size, np.where(headed, fits.liner_material, 0))
    parts[:, OPTIONAL] = catalogue.at(OPTIONAL, fourth, liner_size, np.where(headed, fits.head_material, 0))
    if catalogue.parameters.joint != "knee":
        return parts
    patella = catalogue.small("patellar", first, fits.first_size, fits.first_free & fits.other_free)
    wanted = fits.with_optional & (kind != len(kinds) - 1)  # a patellofemoral knee has one of its own family
    parts[:, OPTIONAL] = np.where(wanted, patella, parts[:, OPTIONAL])
    return parts
