"""What a risk would be if a share of all revisions were missing, as a report has it."""

from dataclasses import dataclass


@dataclass(frozen=True)
class MissingRow:
    """One group's risk at one time, as it is and as if a share of revisions were missing."""

    group: str
    years: float
    estimate: float | None
    if_missing: float | None
    withheld: str | None = None


@dataclass(frozen=True)
class Missing:
    """What risks would be if a share of all revisions were missing."""

    share: float  # of the true revisions, 0 to 1
    hospitals: tuple[str, ...]  # that all of them are missing from; everywhere if empty
    rows: tuple[MissingRow, ...]
