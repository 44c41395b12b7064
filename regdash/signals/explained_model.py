"""What comes back when one implant is explained. A figure that is withheld is None, and `withheld` says why."""

from dataclasses import dataclass
from typing import Any

from regdash.grouping import Grouping
from regdash.reports.model import Head, LeftOut
from regdash.signals.model import SignalReview

ALL_REASONS = "all reasons"
HOSPITAL, SURGEON = UNITS = ("hospital", "surgeon")


@dataclass(frozen=True)
class PartRow:
    """Some of its joints, or a window of their follow-up, beside all others that are alike."""

    field: str  # sex, age, implanted, size, lot, or years since implantation
    group: str
    words: str  # filter words that choose them among its joints; empty where none do
    joints: int | None
    implant_years: float | None
    revisions: int | None
    per_100_implant_years: float | None
    lower: float | None
    upper: float | None
    others_per_100_implant_years: float | None
    hazard_ratio: float | None
    ratio_lower: float | None
    ratio_upper: float | None
    withheld: str | None = None


@dataclass(frozen=True)
class ExcessRow:
    """Its revisions for one reason, less those expected at the hazard of all others; rows add up to the last."""

    reason: str  # or ALL_REASONS
    revisions: int | None
    expected: float | None
    excess: float | None
    lower: float | None  # of the excess
    upper: float | None
    ratio: float | None
    ratio_lower: float | None
    ratio_upper: float | None
    others_revisions: int | None  # what is expected comes from so many
    withheld: str | None = None


@dataclass(frozen=True)
class FirstRevisionRow:
    """What was done, used or taken out at first revisions: its own, and those of all others."""

    kind: str  # done, was (what kind of revision it was), used or taken out
    what: str
    words: str  # filter words that choose these joints among its own; empty where none do
    revisions: int | None
    of: int | None
    share: float | None
    lower: float | None
    upper: float | None
    others_revisions: int | None
    others_of: int | None
    others_share: float | None
    others_lower: float | None
    others_upper: float | None
    withheld: str | None = None


@dataclass(frozen=True)
class UserRow:
    """One hospital or surgeon: its joints with the implant, those with others, and the ratio with it left out."""

    unit: str  # one of UNITS
    user: str
    joints: int | None
    revisions: int | None
    expected: float | None
    others_joints: int | None  # in the same hands, without the implant
    others_revisions: int | None
    others_expected: float | None
    ratio_without: float | None
    lower: float | None
    upper: float | None
    fall: float | None  # of the ratio, as a part of itself
    withheld: str | None = None


@dataclass(frozen=True)
class FallRow:
    """How far the ratio falls at most without one user, beside what exchangeable users would make of it."""

    unit: str  # one of UNITS
    users: int | None
    user: str | None  # the one without whom it falls most
    ratio: float | None
    ratio_without: float | None
    lower: float | None  # of the ratio without
    upper: float | None
    fall: float | None
    chance_lower: float | None  # of the largest fall in draws, where users do not differ
    chance_median: float | None
    chance_upper: float | None
    chance_as_large: float | None  # part of draws with a fall as large
    spread: float | None  # standard deviation of true ratios between users of the class's other implants
    spread_lower: float | None  # of the largest fall in draws, where users differ by that
    spread_median: float | None
    spread_upper: float | None
    spread_as_large: float | None
    draws: int
    seed: int
    finding: str
    withheld: str | None = None


@dataclass(frozen=True)
class AlikeRow:
    """Its ratio where one more thing is held alike: the companion in a role, the surgeon, the hospital."""

    alike: str  # a role, hospital or surgeon
    levels: int | None  # that its joints have
    joints: int | None  # with that thing recorded
    compared_joints: int | None  # of these, with another joint that is like them in everything
    compared_revisions: int | None
    hazard_ratio: float | None
    lower: float | None
    upper: float | None
    withheld: str | None = None


@dataclass(frozen=True)
class CompanionRow:
    """One companion: the implant beside others with the same companion, and the companion without the implant."""

    role: str
    companion: str
    joints: int | None  # with both
    revisions: int | None
    hazard_ratio: float | None  # of the implant, among joints with this companion
    lower: float | None
    upper: float | None
    elsewhere_joints: int | None  # with the companion and another implant
    elsewhere_revisions: int | None
    elsewhere_ratio: float | None  # of these to all other joints without the implant
    elsewhere_lower: float | None
    elsewhere_upper: float | None
    withheld: str | None = None


@dataclass(frozen=True)
class NearbyRow:
    """Something in the records near its joints that may make it look better or worse than it is."""

    kind: str  # held, unlinked, warned, missing or hospital
    what: str
    found: int | None
    of: int | None
    share: float | None
    others_share: float | None  # the same of all joints it is compared with, or of all hospitals
    note: str = ""
    withheld: str | None = None


@dataclass(frozen=True)
class Explanation:
    """Answer to: why does one implant, or one construct, look as it does?"""

    head: Head
    code: str
    kind: str  # implant or construct
    role: str
    joint_class: str
    word: str  # the filter word that chooses its joints
    adjust: tuple[Grouping, ...]
    windows: tuple[PartRow, ...]  # the first is all of follow-up
    excess: tuple[ExcessRow, ...]  # by falling excess; the last is all reasons
    at_first_revision: tuple[FirstRevisionRow, ...]
    subgroups: tuple[PartRow, ...]
    falls: tuple[FallRow, ...]
    users: tuple[UserRow, ...]
    alike: tuple[AlikeRow, ...]
    companions: tuple[CompanionRow, ...]
    nearby: tuple[NearbyRow, ...]
    left_out: tuple[LeftOut, ...]  # joints that lack a field ratios are adjusted for
    settings: dict[str, Any]  # of screens, which say who is compared
    reviews: dict[str, Any]
    decisions: tuple[SignalReview, ...] = ()  # on the implant or construct itself, oldest first

    @property
    def whole(self) -> PartRow:
        """All of its joints over all of follow-up."""
        return self.windows[0]
