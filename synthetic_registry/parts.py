"""
The components in a joint: what a primary puts in, and what revisions take out and put in.
"""

import numpy as np

from regdash import vocabulary as words
from synthetic_registry.catalogue import Catalogue
from synthetic_registry.joints import Joints
from synthetic_registry.parameters import Parameters

# Places for components in one joint: the two that name a construct, the bearing, one that goes in or not
# (in a knee: femoral, tibial, insert, patellar), and the first three once more for a second device.
FIRST, OTHER, BEARING, OPTIONAL = range(4)
SECOND_DEVICE = slice(4, 7)
PLACES = 7
NONE = -1


def place_roles(parameters: Parameters) -> list[str]:
    """Name the role of each place."""
    roles = list(parameters.roles)
    return [*roles[:4], *roles[:3]]


def primary_parts(joints: Joints, catalogue: Catalogue, at: np.ndarray) -> np.ndarray:
    """Find what the primaries of some joints put in; (n, places) catalogue entries, -1: nothing."""
    fixation = joints.fixation[at]
    femur_free = np.isin(fixation, [words.FIXATIONS.index("cementless"), words.FIXATIONS.index("hybrid")])
    tibia_free = np.isin(fixation, [words.FIXATIONS.index("cementless"), words.FIXATIONS.index("reverse hybrid")])
    resurfaced = joints.patella[at] == words.PATELLAS.index("resurfaced")
    return construct_parts(
        catalogue,
        joints.construct[at],
        joints.femoral_size[at],
        joints.tibial_size[at],
        femur_free,
        tibia_free,
        resurfaced,
    )


def construct_parts(
    catalogue: Catalogue,
    construct: np.ndarray,
    femoral_size: np.ndarray,
    tibial_size: np.ndarray,
    femur_free: np.ndarray,
    tibia_free: np.ndarray,
    resurfaced: np.ndarray,
) -> np.ndarray:
    """
    Find the components of constructs.

    Args:
        construct, femoral_size, tibial_size: (n,) what and how large.
        femur_free, tibia_free: (n,) bool, put in without cement.
        resurfaced: (n,) bool, with a patellar component.

    Returns:
        (n, places) int32 catalogue entries, -1: nothing.
    """
    femoral = catalogue.implants.constructs.femoral[construct]
    tibial = catalogue.implants.constructs.tibial[construct]
    parts = np.full((len(construct), PLACES), NONE, np.int32)
    parts[:, FIRST] = catalogue.main(FIRST, femoral, femoral_size, femur_free)
    parts[:, OTHER] = catalogue.main(OTHER, tibial, tibial_size, tibia_free)
    parts[:, BEARING] = catalogue.bearing(tibial, tibial_size)
    optional = list(catalogue.parameters.roles)[OPTIONAL]
    parts[:, OPTIONAL] = np.where(resurfaced, catalogue.small(optional, femoral, femoral_size), NONE)
    return parts
