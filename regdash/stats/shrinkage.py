"""
What many units say about each one: its ratio, drawn towards the others' as far as its own few events leave room.
Shrunken ratios put units in a better order; each by itself is drawn too near the middle. Show the raw ones beside.
"""

from dataclasses import dataclass

FEW_UNITS = "fewer than 20 units: limits do not say how badly the spread between them is known"
NO_SPREAD = "no spread between units beyond chance was found: every unit has the ratio of all together"


@dataclass(frozen=True)
class ShrunkRatio:
    """One unit's ratio given all units. What is not defined is None, and the note says why."""

    raw: float | None  # from the unit alone
    ratio: float | None  # its mean, or median, given all
    lower: float | None
    upper: float | None
    probability: float | None  # that the true ratio exceeds the stated one
    note: str | None = None
