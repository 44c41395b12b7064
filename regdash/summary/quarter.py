"""A quarter of the calendar, as people name it."""

import re
from dataclasses import dataclass
from datetime import date, timedelta

from regdash.errors import SummaryError


@dataclass(frozen=True)
class Quarter:
    """One quarter: "2024Q3"."""

    year: int
    number: int

    def __str__(self) -> str:
        return f"{self.year}Q{self.number}"

    @property
    def first(self) -> date:
        """Its first day."""
        return date(self.year, 3 * self.number - 2, 1)

    @property
    def last(self) -> date:
        """Its last day."""
        after = date(self.year + (self.number == 4), 3 * self.number % 12 + 1, 1)
        return after - timedelta(days=1)

    @property
    def before(self) -> "Quarter":
        """The quarter before."""
        return Quarter(self.year - 1, 4) if self.number == 1 else Quarter(self.year, self.number - 1)

    @property
    def a_year_before(self) -> "Quarter":
        """The same quarter of the year before."""
        return Quarter(self.year - 1, self.number)


def read_quarter(text: str) -> Quarter:
    """
    Read a quarter.

    Raises:
        SummaryError: it is none.

    >>> quarter = read_quarter("2024q3")
    >>> str(quarter), quarter.first.isoformat(), quarter.last.isoformat(), str(quarter.before)
    ('2024Q3', '2024-07-01', '2024-09-30', '2024Q2')
    >>> read_quarter("2024Q4").last.isoformat()
    '2024-12-31'
    """
    found = re.fullmatch(r"((?:19|20)\d\d)[Qq]([1-4])", text.strip())
    if not found:
        raise SummaryError(f"{text} is no quarter. Write it as 2024Q3.")
    return Quarter(int(found[1]), int(found[2]))
