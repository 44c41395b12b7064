"""What comes back from a screen. A figure that is withheld is None, and `withheld` says why."""

from dataclasses import dataclass
from typing import TYPE_CHECKING

from regdash.grouping import Grouping
from regdash.reports.model import Head, LeftOut

if TYPE_CHECKING:
    from regdash.signals.settings import ScreenSettings

IMPLANTS, CONSTRUCTS, SIZES, LOTS = KINDS = ("implants", "constructs", "sizes", "lots")
ALL = "all"  # the window that is all of follow-up
LOOK_CLOSER = "look closer"  # a signal
NOTHING_UNUSUAL = "nothing unusual"  # a high ratio is ruled out
TOO_FEW = "too few to say"
LABELS = (LOOK_CLOSER, NOTHING_UNUSUAL, TOO_FEW)


@dataclass(frozen=True)
class ScreenRow:
    """One implant, construct, size or lot in one window since implantation, beside all others of its class and role."""

    code: str
    role: str
    joint_class: str
    window: str  # years since implantation, as in 1..5, or all
    joints: int | None
    implant_years: float | None
    revisions: int | None
    expected: float | None  # at the rate of all others
    per_100_implant_years: float | None
    rate_ratio: float | None
    rate_p: float | None  # exact, one-sided, of a ratio up to the stated one
    hazard_ratio: float | None  # stratified
    lower: float | None
    upper: float | None
    p: float | None  # one-sided, of a hazard ratio up to the stated one
    q: float | None  # over everything that the screen tested
    shrunk_hazard_ratio: float | None
    probability: float | None  # that the true ratio exceeds the stated one
    signal: str  # one of LABELS
    withheld: str | None = None


@dataclass(frozen=True)
class ScreenReport:
    """Answer to `screen`: everything that was screened, the most striking first."""

    head: Head
    kind: str  # one of KINDS
    settings: "ScreenSettings"
    adjust: tuple[Grouping, ...]
    windows: tuple[float, ...]
    rows: tuple[ScreenRow, ...]
    tests: int
    signals: int
    expected_false: float  # of the signals, at most
    not_tested: int  # units with too few joints or expected revisions
    joints_apart: int | None  # in nobody's comparison group
    apart: tuple[str, ...]  # the implants that they are of
    left_out: tuple[LeftOut, ...]  # joints that lack a field ratios are adjusted for
