"""
What comes back from a question. The dashboard, the command line and documents show these same objects,
so a number on a screen, in a script and on paper cannot disagree.

Proportions run from 0 to 1. A figure that is withheld is None, and `withheld` says why.
"""

from dataclasses import dataclass, field
from typing import Any

import numpy as np

from regdash.cohort import Cohort
from regdash.grouping import Grouping
from regdash.reports.missing_row import Missing
from regdash.reports.window_row import WindowRateRow

IMPLANT_VIEW = "implant"  # net risk: deaths censored; how the implant does
PATIENT_VIEW = "patient"  # cumulative incidence: death competes; what happens to patients
ANY_REVISION = "any revision"


@dataclass(frozen=True)
class Head:
    """What every answer carries: what was asked, of which joints, on which cut, how, and with what cautions."""

    measure: str
    view: str
    endpoint: str
    cohort: Cohort
    by: tuple[Grouping, ...]
    cut: str
    joints: int | None  # a count, like those below, is None where the policy withholds it for being small
    patients: int | None
    revisions: int | None
    held_revisions: int | None
    median_follow_up: float | None  # years, over all joints asked about
    method: str  # a sentence and its source
    cautions: tuple[str, ...]
    settings: dict[str, Any] = field(default_factory=dict)  # of the policy: minimum at risk and the like
    beside: Cohort | None = None  # the second of two cohorts side by side, each of which is a group


@dataclass(frozen=True)
class Group:
    """One group of joints: its label for people, and the filter words that choose exactly it, the cohort's included."""

    label: str
    words: tuple[str, ...]


@dataclass(frozen=True)
class RiskRow:
    """Risk of one group at one time."""

    group: str
    years: float
    at_risk: int | None
    revisions: int | None
    estimate: float | None
    lower: float | None
    upper: float | None
    withheld: str | None = None


@dataclass(frozen=True)
class DifferenceRow:
    """Risk of one group less that of the reference, at one time."""

    group: str
    reference: str
    years: float
    difference: float | None
    lower: float | None
    upper: float | None
    withheld: str | None = None


@dataclass(frozen=True)
class CeilingRow:
    """Whether the risk of one group at one time is below a ceiling: met, not met or cannot say yet, and why."""

    group: str
    years: float
    ceiling: float  # 0 to 1
    verdict: str
    why: str


@dataclass(frozen=True)
class MarginRow:
    """Whether the risk of one group is below that of the reference with a margin on it, at one time, and why."""

    group: str
    reference: str
    years: float
    margin: float  # 0.2: a fifth more
    excess: float | None  # risk less (1 + margin) × that of the reference
    lower: float | None
    upper: float | None
    verdict: str
    why: str


@dataclass(frozen=True)
class LeftOut:
    """Joints that lack a covariate and are left out for it; one joint may lack several."""

    field: str
    joints: int | None


@dataclass(frozen=True)
class MixRow:
    """One stratum of the population that risks are standardised to."""

    stratum: str
    joints: int | None
    share: float | None


@dataclass(frozen=True)
class Curve:
    """A step function with limits: each value holds from its day until the next; it stops where too few are left."""

    group: str
    days: np.ndarray  # (k,) whole days, strictly increasing, beginning with 0
    estimate: np.ndarray  # (k,) proportion, 0 to 1
    lower: np.ndarray  # (k,)
    upper: np.ndarray  # (k,)
    last_day: int  # day up to which it may be drawn
    at_risk: tuple[tuple[float, int], ...]  # (years, joints at risk), for the row under a chart


@dataclass(frozen=True)
class RiskReport:
    """Revision risk by group: a table at chosen years and a curve for each group."""

    head: Head
    groups: tuple[Group, ...]
    years: tuple[float, ...]
    rows: tuple[RiskRow, ...]
    curves: tuple[Curve, ...]  # none where risks are standardised
    differences: tuple[DifferenceRow, ...] = ()  # where they were asked for
    mix: tuple[MixRow, ...] = ()  # of strata, where risks are standardised to it
    left_out: tuple[LeftOut, ...] = ()  # where risks are standardised
    ceilings: tuple[CeilingRow, ...] = ()  # one a row, where a ceiling was stated
    margins: tuple[MarginRow, ...] = ()  # where a margin was
    at_least: int | None = None  # joints at risk that a verdict was asked to have
    missing: Missing | None = None  # where a share of missing revisions was stated


@dataclass(frozen=True)
class ReasonRow:
    """One reason in one group: counts over all follow-up, and cumulative incidence at a time, death competing."""

    group: str
    reason: str
    years: float
    at_risk: int | None
    revisions: int | None
    share: float | None  # of the group's revisions
    incidence: float | None
    lower: float | None
    upper: float | None
    withheld: str | None = None


@dataclass(frozen=True)
class ReasonsReport:
    """Why joints are revised: reasons by falling incidence, in each group."""

    head: Head
    groups: tuple[Group, ...]
    years: float
    rows: tuple[ReasonRow, ...]
    curves: tuple[tuple[str, tuple[Curve, ...]], ...]  # for each group, a curve for each reason


@dataclass(frozen=True)
class RateRow:
    """Revisions per 100 implant-years of one group, with exact Poisson limits."""

    group: str
    joints: int | None
    implant_years: float | None
    revisions: int | None
    per_100_implant_years: float | None
    lower: float | None
    upper: float | None
    withheld: str | None = None


@dataclass(frozen=True)
class RatesReport:
    """Revision rates by group."""

    head: Head
    groups: tuple[Group, ...]
    rows: tuple[RateRow, ...]
    windows: tuple[WindowRateRow, ...] | None = None  # in place of rows, where windows were asked for


@dataclass(frozen=True)
class CompareRow:
    """Hazard of revision of one group over that of the reference, in one window since implantation."""

    group: str
    reference: str
    from_years: float
    to_years: float | None  # None: to the end of follow-up
    hazard_ratio: float | None
    lower: float | None
    upper: float | None
    p: float | None  # two-sided
    withheld: str | None = None


@dataclass(frozen=True)
class TestRow:
    """One test of whether groups differ, or of whether their ratio lasts."""

    __test__ = False  # pytest: no tests of the program

    test: str
    asks: str
    statistic: float | None
    df: int | None
    p: float | None
    withheld: str | None = None


@dataclass(frozen=True)
class CompareReport:
    """Adjusted hazard ratios of groups against one of them: over all follow-up, then by window."""

    head: Head
    groups: tuple[Group, ...]  # those compared, the reference among them
    reference: str
    adjust: tuple[Grouping, ...]  # what is adjusted for
    windows: tuple[float, ...]  # years at which one window ends and the next begins
    rows: tuple[CompareRow, ...]
    tests: tuple[TestRow, ...]
    model: str  # in one sentence
    modelled: int | None  # joints in it
    left_out: tuple[LeftOut, ...]
    robust: str | None = None  # whose joints may resemble each other: patient, surgeon, hospital; None: independent
    clusters: int | None = None  # how many of them are in the model


@dataclass(frozen=True)
class GapRow:
    """What one reason adds to the difference in risk between two groups; or, as the last row, all of it."""

    reason: str
    group_a: float | None  # risk of that reason in the one group
    group_b: float | None  # and in the other
    difference: float | None  # a less b
    lower: float | None
    upper: float | None
    share: float | None  # of the whole difference
    withheld: str | None = None


@dataclass(frozen=True)
class ShareRow:
    """Limits of a reason's share of the difference, and what may be said of them."""

    reason: str
    share: float
    lower: float | None
    upper: float | None
    note: str | None


@dataclass(frozen=True)
class GapReport:
    """A difference in the risk of revision between two groups at a time, split into reasons that add up to it."""

    head: Head
    groups: tuple[Group, Group]  # a, then b
    years: float
    rows: tuple[GapRow, ...]  # reasons by falling size, then all together
    shares: tuple[ShareRow, ...]  # none where shares are withheld
    left_out: tuple[LeftOut, ...]


@dataclass(frozen=True)
class DescribeRow:
    """Who the joints of one group are."""

    group: str
    joints: int | None
    patients: int | None
    hospitals: int | None
    surgeons: int | None
    first_date: str | None
    last_date: str | None
    mean_age: float | None
    female: float | None  # share of those whose sex is recorded; None where none is
    median_follow_up: float | None  # years
    revised: int | None
    died: int | None
    lost: int | None
    withheld: str | None = None


@dataclass(frozen=True)
class DescribeReport:
    """Who they are: counts, age, sex, follow-up by group."""

    head: Head
    groups: tuple[Group, ...]
    rows: tuple[DescribeRow, ...]


@dataclass(frozen=True)
class ImplantRow:
    """One implant against all others of its class: use, revisions, rate, ratio and an exact test."""

    code: str
    role: str
    joint_class: str  # with the joint, where a list holds several
    joints: int | None
    hospitals: int | None
    surgeons: int | None
    first_used: str | None
    last_used: str | None
    implant_years: float | None
    revisions: int | None
    expected: float | None  # at the rate of all others of the class; None where there are none
    per_100_implant_years: float | None
    lower: float | None
    upper: float | None
    rate_ratio: float | None
    ratio_lower: float | None
    ratio_upper: float | None
    p: float | None  # one-sided, that many or more, conditional on the total; exact, so never withheld for few joints
    withheld: str | None = None


@dataclass(frozen=True)
class ImplantsReport:
    """Every implant of the cohort, with how many tests were made."""

    head: Head
    rows: tuple[ImplantRow, ...]
    tested: int
    expected_by_chance: float  # how many of them would at most have p < 0.05 by chance if none differed


@dataclass(frozen=True)
class ImplantReport:
    """Everything on one implant: its row, its curve beside all others of its class, its reasons, sizes and users."""

    head: Head
    row: ImplantRow
    risk: RiskReport  # two groups: the implant, and all others of its class
    reasons: ReasonsReport  # the same two groups
    sizes: tuple[RateRow, ...]
    hospitals: tuple[RateRow, ...]
    surgeons: tuple[RateRow, ...]
    windows: tuple[RateRow, ...]  # by time since implantation, the implant and all others


@dataclass(frozen=True)
class JointsReport:
    """A list of joints, one page of it."""

    head: Head
    columns: tuple[str, ...]
    rows: tuple[tuple[Any, ...], ...]
    total: int
    offset: int


@dataclass(frozen=True)
class JointEvent:
    """One thing that happened to a joint."""

    day: int
    date: str
    what: str
    details: tuple[str, ...]


@dataclass(frozen=True)
class JointReport:
    """One joint's life, in order; pseudonyms only, age in years and no date of birth."""

    head: Head
    joint_id: str
    facts: tuple[tuple[str, str], ...]
    events: tuple[JointEvent, ...]
    revisions: tuple[str, ...] = ()  # operation records that are linked to it and count, in their order
