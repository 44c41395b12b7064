"""
What comes back from questions on what was done: operations counted by their own date, and revisions by what they were
for and what was done. Proportions run from 0 to 1; a figure that is withheld is None, and `withheld` says why.
"""

from dataclasses import dataclass, field
from typing import Any

from regdash.cohort import Cohort
from regdash.grouping import Grouping
from regdash.reports.model import Group


@dataclass(frozen=True)
class DoneHead:
    """What every answer on what was done carries; counts are None where the policy withholds them for being small."""

    measure: str
    cohort: Cohort
    by: tuple[Grouping, ...]
    cut: str
    primaries: int | None  # None too where they are not asked about
    revisions: int | None
    unlinked: int | None  # of the revisions, those without a primary here
    held_revisions: int | None
    method: str
    cautions: tuple[str, ...]
    settings: dict[str, Any] = field(default_factory=dict)


@dataclass(frozen=True)
class ActivityRow:
    """Operations of one group in one year, quarter or month."""

    group: str
    period: str
    primaries: int | None
    primaries_change: float | None  # on the same period of the year before: 0.1 is a tenth more
    revisions: int | None
    revisions_change: float | None
    first: int | None  # first revisions of registered joints
    later: int | None
    unlinked: int | None  # revisions without a primary here
    second_stages: int | None  # counted with their first stage, in its period
    burden: float | None  # revisions / (primaries + revisions)
    lower: float | None
    upper: float | None
    change_withheld: str | None = None
    withheld: str | None = None


@dataclass(frozen=True)
class ActivityReport:
    """Primaries and revisions by group and period, earliest first."""

    head: DoneHead
    per: str  # year, quarter or month
    groups: tuple[Group, ...]
    rows: tuple[ActivityRow, ...]


@dataclass(frozen=True)
class RevisionReasonRow:
    """Revisions of one group for one leading reason; the rate is of those that ended their joint's follow-up."""

    group: str
    reason: str
    revisions: int | None
    of: int | None  # revisions of the group with a reason
    share: float | None
    lower: float | None
    upper: float | None
    difference: float | None  # the share less that of the first of two groups
    first: int | None  # first revisions in follow-up, which the rate counts
    implant_years: float | None  # of the group, in the period
    per_100_implant_years: float | None
    rate_lower: float | None
    rate_upper: float | None
    rate_withheld: str | None = None
    withheld: str | None = None


@dataclass(frozen=True)
class RevisionWorkRow:
    """Revisions of one group at which one thing was done, or used beside ordinary components."""

    group: str
    kind: str  # done, or used
    what: str
    revisions: int | None
    of: int | None  # all revisions of the group
    share: float | None
    lower: float | None
    upper: float | None
    withheld: str | None = None


@dataclass(frozen=True)
class RevisionsReport:
    """Revisions by group: what they were for, and what was done at them."""

    head: DoneHead
    groups: tuple[Group, ...]
    rows: tuple[RevisionReasonRow, ...]
    work: tuple[RevisionWorkRow, ...]


@dataclass(frozen=True)
class RevisionListReport:
    """A list of revisions, one page of it."""

    head: DoneHead
    columns: tuple[str, ...]
    rows: tuple[tuple[Any, ...], ...]
    total: int
    offset: int
