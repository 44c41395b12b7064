"""
Lists of words over all kinds of joints, in which records number them; and codes of diagnoses.
"""

from collections.abc import Mapping

import numpy as np

from regdash import vocabulary as words


def _over_joints(listed: Mapping[str, tuple[str, ...]]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(word for joint in words.JOINTS for word in listed[joint]))


CLASSES = _over_joints(words.CLASSES)
ROLES = _over_joints(words.ROLES)
DETAILS = {joint: tuple(reason.detail for reason in words.REASONS[joint]) for joint in words.JOINTS}
REASONS = _over_joints(DETAILS)

# ICD-10 codes by joint and diagnosis, as hospitals write them; common practice, from memory. A diagnosis without
# a code of its own is left empty.
_EVERYWHERE = {"rheumatoid arthritis": "M06.9", "osteonecrosis": "M87.9"}
DIAGNOSIS_CODES = {
    "knee": {"osteoarthritis": "M17.1", "post-traumatic arthritis": "M17.3", **_EVERYWHERE},
    "hip": {
        "osteoarthritis": "M16.1",
        "post-traumatic arthritis": "M16.5",
        "femoral-neck fracture": "S72.0",
        "developmental dysplasia": "M16.3",
        **_EVERYWHERE,
    },
    "shoulder": {"osteoarthritis": "M19.0", "proximal humeral fracture": "S42.2", **_EVERYWHERE},
}
REVISION_CODES = {"infection": "T84.5", "fracture": "M96.6", "": "T84.0"}  # by group of reasons
# Codes of another joint's arthrosis or fracture, and what no code looks like.
SITE_CODES = {"knee": "M17.1", "hip": "M16.1", "shoulder": "S42.2"}
MALFORMED_CODES = ("MM17", "17.1", "M1", "M17;1")
ICD10 = (
    *dict.fromkeys(
        (*(code for codes in DIAGNOSIS_CODES.values() for code in codes.values()), *REVISION_CODES.values())
    ),
    *MALFORMED_CODES,
)
MALFORMED = np.arange(len(ICD10) - len(MALFORMED_CODES), len(ICD10))

SYSTEMS = tuple(f"T{number:02d}" for number in range(1, 9))
ROBOTS, NAVIGATION = range(4), range(4, 8)  # positions among the systems
NOTES = (
    "haematoma",
    "late wound dehiscence",
    "retained drain",
    "component recalled",
    "recurrent effusion",
    "patient request",
    "not further specified",
    "nerve irritation",
)


def positions(listed: tuple[str, ...], among: tuple[str, ...]) -> np.ndarray:
    """Find where the words of one list stand in another; uint8."""
    return np.array([among.index(word) for word in listed], np.uint8)
