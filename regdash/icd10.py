"""
The few ICD-10 codes that stand for the vocabulary's diagnoses: which joint a code is of, and what it says.

It is a small map of the classification of the World Health Organization (2019), not the book. A code that is not in it
is neither wrong nor right: it names no joint and no diagnosis.
"""

import re
from dataclasses import dataclass
from typing import Any

from regdash.vocabulary import JOINTS

# A letter and two digits, then up to two more behind a point, which forms often leave out.
FORM = r"[A-Z][0-9]{2}(?:\.?[0-9]{1,2})?"

# The fifth character of chapter XIII tells the site: 1 shoulder region, 2 upper arm, 3 forearm, 4 hand, 5 pelvic region
# and thigh (hip joint), 6 lower leg (knee joint), 7 ankle and foot. 0, 8 and 9 (several, other, not given) do not.
SITES: dict[str, tuple[str, ...]] = {
    "1": ("shoulder",),
    "2": ("shoulder",),
    "3": (),
    "4": (),
    "5": ("hip",),
    "6": ("knee",),
    "7": (),
}


@dataclass(frozen=True)
class Code:
    """A code, or the beginning of codes, without its point."""

    plain: str
    diagnosis: str  # as in the vocabulary
    joints: tuple[str, ...] = JOINTS  # those that it can be of
    has_site: bool = False  # the fifth character, where there is one, tells which


# Of two codes that both begin what was sent, the longer counts.
CODES = (
    Code("M17", "osteoarthritis", ("knee",)),
    Code("M172", "post-traumatic arthritis", ("knee",)),
    Code("M173", "post-traumatic arthritis", ("knee",)),
    Code("M16", "osteoarthritis", ("hip",)),
    Code("M162", "developmental dysplasia", ("hip",)),
    Code("M163", "developmental dysplasia", ("hip",)),
    Code("M164", "post-traumatic arthritis", ("hip",)),
    Code("M165", "post-traumatic arthritis", ("hip",)),
    Code("M190", "osteoarthritis", has_site=True),
    Code("M191", "post-traumatic arthritis", has_site=True),
    Code("M125", "post-traumatic arthritis", has_site=True),
    Code("M05", "rheumatoid arthritis", has_site=True),
    Code("M06", "rheumatoid arthritis", has_site=True),
    Code("M07", "other inflammatory arthritis", has_site=True),
    Code("M08", "other inflammatory arthritis", has_site=True),
    Code("M13", "other inflammatory arthritis", has_site=True),
    Code("M87", "osteonecrosis", has_site=True),
    Code("M362", "haemophilic arthropathy"),
    Code("C402", "tumour", ("knee", "hip")),
    Code("C400", "tumour", ("shoulder",)),
    Code("C414", "tumour", ("hip",)),
    Code("S724", "acute fracture", ("knee",)),
    Code("S821", "acute fracture", ("knee",)),
    Code("S324", "acute fracture", ("hip",)),
    Code("S721", "acute fracture", ("hip",)),
    Code("S720", "femoral-neck fracture", ("hip",)),
    Code("Q65", "developmental dysplasia", ("hip",)),
    Code("M91", "childhood hip disease", ("hip",)),
    Code("M930", "childhood hip disease", ("hip",)),
    Code("T841", "failed fracture fixation"),
    Code("M841", "failed fracture fixation", has_site=True),
    Code("M128", "cuff-tear arthropathy", has_site=True),
    Code("M751", "massive cuff tear", ("shoulder",)),
    Code("S422", "proximal humeral fracture", ("shoulder",)),
    Code("T921", "fracture sequelae", ("shoulder",)),
    Code("M244", "instability arthropathy", has_site=True),
    Code("M243", "instability arthropathy", has_site=True),
)

# What is wrong with a joint replacement rather than with the joint; a revision may carry it.
COMPLICATIONS = {
    "T840": "mechanical complication of a joint prosthesis",
    "T845": "infection of a joint prosthesis",
    "M966": "fracture of bone after insertion of an implant",
}


def plain(code: str) -> str:
    """
    Write a code without its point, as the map has it.

    >>> plain("M19.01")
    'M1901'
    """
    return code.replace(".", "")


def is_formed(code: str) -> bool:
    """
    Tell whether a code has the form of the classification.

    >>> is_formed("M17.1"), is_formed("M171"), is_formed("17.1")
    (True, True, False)
    """
    return re.fullmatch(FORM, code) is not None


def _found(code: str) -> Code | None:
    begins = (entry for entry in CODES if plain(code).startswith(entry.plain))
    return max(begins, key=lambda entry: len(entry.plain), default=None)


def joints_of(code: str) -> tuple[str, ...] | None:
    """
    List the joints that a code can be of: none where it is of another part of the body, None where the map lacks it.

    >>> joints_of("M17.1"), joints_of("M19.01"), joints_of("M19.04"), joints_of("Z99")
    (('knee',), ('shoulder',), (), None)
    """
    found, whole = _found(code), plain(code)
    if found is None or not found.has_site or len(whole) < 5:
        return found.joints if found else None
    return SITES.get(whole[4], found.joints)


def diagnosis_of(code: str) -> str | None:
    """
    Find the diagnosis that a code stands for; None where the map does not have it.

    >>> diagnosis_of("M17.3"), diagnosis_of("S72.0"), diagnosis_of("T84.5")
    ('post-traumatic arthritis', 'femoral-neck fracture', None)
    """
    found = _found(code)
    return found.diagnosis if found else None


def code_for(joint: str, diagnosis: str) -> str | None:
    """
    Give the first code of the map for a diagnosis at a joint; None where it has none.

    >>> code_for("knee", "osteoarthritis"), code_for("shoulder", "osteonecrosis"), code_for("knee", "other")
    ('M17', 'M87.01', None)
    """
    found = next((entry for entry in CODES if entry.diagnosis == diagnosis and joint in entry.joints), None)
    if found is None:
        return None
    if not found.has_site:
        return found.plain if len(found.plain) == 3 else f"{found.plain[:3]}.{found.plain[3:]}"
    site = next(digit for digit, joints in SITES.items() if joint in joints)
    return f"{found.plain[:3]}.{found.plain[3:] or '0'}{site}"


def code_columns() -> dict[str, list[Any]]:
    """
    List the map for the database, as columns of one length: `codes` without their point, `diagnoses` and `joints`.

    A code whose fifth character tells the site is listed once as it is, and once for each site.
    """
    rows: list[tuple[str, str, tuple[str, ...]]] = []
    for entry in CODES:
        rows.append((entry.plain, entry.diagnosis, entry.joints))
        if entry.has_site:
            fourths = "0123456789" if len(entry.plain) == 3 else entry.plain[3]
            rows += [(entry.plain[:3] + x + site, entry.diagnosis, at) for x in fourths for site, at in SITES.items()]
    codes, diagnoses, joints = zip(*rows, strict=True)
    return {"codes": list(codes), "diagnoses": list(diagnoses), "joints": [list(of) for of in joints]}
