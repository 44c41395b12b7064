"""What comes back from a screen. A figure that is withheld is None, and `withheld` says why."""

from dataclasses import dataclass, field
from datetime import date
from typing import TYPE_CHECKING, Any

from regdash.grouping import Grouping
from regdash.reports.model import Head, LeftOut
from regdash.store.signal_reviews import Reviews
from regdash.store.signal_reviews import SignalReview as SignalReview
from regdash.store.signal_reviews import Unit as Unit

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
class ReviewsUsed:
    """The reviews that a screen was made with."""

    reviews: Reviews = field(default_factory=Reviews)
    as_of: date | None = None  # the day, in UTC, up to whose end; None: all of them

    def confirmed(self, kind: str) -> tuple[str, ...]:
        """Units in nobody's comparison group: confirmed implants, and confirmed units of the kind that is screened."""
        return tuple(sorted({*self.reviews.confirmed(IMPLANTS), *self.reviews.confirmed(kind)}))

    def facts(self, kind: str) -> dict[str, Any]:
        """As recorded in an answer."""
        as_of = self.as_of.isoformat() if self.as_of else None
        return {"as_of": as_of, **self.reviews.facts, "confirmed": list(self.confirmed(kind))}


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
    false_signals: str = ""  # how many signals are expected to be false, in a sentence
    used: ReviewsUsed = field(default_factory=ReviewsUsed)


FIRST_SEEN, SEEN_AGAIN, NOT_SEEN = SEEN = ("first seen", "seen again", "not seen")


@dataclass(frozen=True)
class Moved:
    """What moved of a unit in a window since an earlier cut; `parts` counts revisions by cause, None where withheld."""

    cause: str  # the largest part, in words; several where they are equal
    sentence: str
    parts: dict[str, int] | None  # by the names of `reports.changes.PARTS`; those that are 0 are left out


@dataclass(frozen=True)
class SignalRow:
    """One unit in one window: what the screen says, what people decided, and whether it was a signal before."""

    unit: Unit
    screened: ScreenRow  # without figures where the unit is no longer in the screen
    review: SignalReview | None  # the decision that stands
    state: str
    before: ScreenRow | None = None  # in the screen of the earlier cut
    seen: str | None = None  # one of SEEN; None where it is a signal in neither cut, or there is no earlier one
    moved: Moved | None = None  # of what is in SEEN

    @property
    def is_listed(self) -> bool:
        """Whether it is a signal, was one in the earlier cut, or somebody decided on it; on all windows, told once."""
        decided = self.review is not None and self.screened.window in (ALL, self.review.window)
        return self.screened.signal == LOOK_CLOSER or self.seen is not None or decided


@dataclass(frozen=True)
class SignalsReport:
    """Answer to `signals`: a screen, its reviews, and the screen of an earlier cut."""

    screen: ScreenReport
    head: Head
    rows: tuple[SignalRow, ...]
    earlier: str | None  # the cut that it was compared with

    @property
    def kind(self) -> str:
        """One of KINDS."""
        return self.screen.kind

    def seen(self, what: str) -> int:
        """How many units are first seen, seen again or not seen in one window or more."""
        return len({row.unit for row in self.rows if row.seen == what})
