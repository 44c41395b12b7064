"""What comes back when hospitals or surgeons are asked about: counts, risk and volume of each, by code."""

from dataclasses import dataclass

from regdash.reports.model import Group, Head

HOSPITALS, SURGEONS = "hospitals", "surgeons"
KINDS = {HOSPITALS: "hospital", SURGEONS: "surgeon"}  # and the filter word that chooses one


@dataclass(frozen=True)
class UnitProfile:
    """One hospital or surgeon: its primaries, and how they last wherever they are revised."""

    group: str  # the code, behind the joint where there are several
    joints: int | None  # a count, like those below, is None where the policy withholds it
    patients: int | None
    revisions: int | None  # over all follow-up
    years: float  # at which the risk is given
    at_risk: int | None
    estimate: float | None
    lower: float | None
    upper: float | None
    implant_years: float | None
    per_100_implant_years: float | None
    rate_lower: float | None
    rate_upper: float | None
    joints_last_365_days: int | None  # of the cut, its last day included
    partial_share: float | None  # of its knees, 0 to 1; None where it has none
    first_date: str | None
    last_date: str | None
    completeness: float | None  # of a hospital's primaries; None where there is no administrative count
    rate_withheld: str | None  # why there is no rate
    withheld: str | None = None  # why there is no risk

    @property
    def is_over(self) -> bool:
        """Whether more primaries were registered than its administrative system counts, which is a fault."""
        return self.completeness is not None and self.completeness > 1


@dataclass(frozen=True)
class ProfilesReport:
    """Hospitals or surgeons of a cohort's primaries."""

    head: Head
    kind: str  # a key of KINDS
    years: float
    groups: tuple[Group, ...]
    rows: tuple[UnitProfile, ...]  # one a group
