"""The rate of one group in one window, as it comes back from a question."""

from dataclasses import dataclass


@dataclass(frozen=True)
class WindowRateRow:
    """A window is after `from_years` up to `to_years` since implantation, and between two dates, both in it."""

    group: str
    from_years: float
    to_years: float | None  # None: to the end of follow-up
    from_date: str | None  # None: from the first implantation on
    to_date: str | None  # None: to the end of follow-up
    joints: int | None  # in follow-up in this window, for however short
    implant_years: float | None
    revisions: int | None
    per_100_implant_years: float | None
    lower: float | None
    upper: float | None
    withheld: str | None = None
