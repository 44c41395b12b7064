"""What comes back from questions about links for people to look at."""

from dataclasses import dataclass

from regdash.reports.submitted_rows import RowsHead

OPEN, ACCEPTED, UNDONE = "open", "accepted", "undone"  # what became of a link


@dataclass(frozen=True)
class ReviewRow:
    """A revision and a primary it could belong to, or that people joined it to or took it from."""

    revision: str  # operation record
    primary: str
    joint: str
    hospital: str  # of the revision
    revised: str  # date
    method: str  # how it was found; by decision where no rule had found it
    confidence: str
    agrees: str  # what the two records have in common
    is_held: bool
    state: str  # open, accepted or undone
    decided: str | None = None  # who, when and why


@dataclass(frozen=True)
class ReviewReport:
    """Open links first, then decisions that stand."""

    head: RowsHead
    rows: tuple[ReviewRow, ...]


@dataclass(frozen=True)
class PairLine:
    """One field of two records; `same` is None where they need not be alike or one does not say."""

    field: str
    revision: str | None
    primary: str | None
    same: bool | None


@dataclass(frozen=True)
class PairReport:
    """Two records side by side."""

    head: RowsHead
    row: ReviewRow
    lines: tuple[PairLine, ...]
