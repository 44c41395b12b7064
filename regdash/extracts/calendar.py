"""
What a coarse date tells, and how long a joint may then be followed without telling more.

A joint that is still in place at the end of a data cut was put in on that day less its follow-up: months of follow-up
would tell the month of a primary of which only the year is to be told. So follow-up is told up to the last whole year
(quarter, month) that every joint of the same year of implantation has been followed for. That depends on the year
alone; it is an end of follow-up that nothing about a joint decides, so estimates stay right, on less follow-up.
"""

from dataclasses import dataclass
from datetime import date, timedelta

from regdash.extracts.coarseness import DAY, MONTH, MONTHS_PER, QUARTER, YEAR, YEARS_OF, Coarseness
from regdash.stats.years import DAYS_PER_YEAR

DAYS_PER_MONTH = DAYS_PER_YEAR / 12
_MONTHS_A_YEAR = 12


@dataclass(frozen=True)
class ToldDate:
    """A date as it is told, and the longest follow-up that tells no more; None where the day itself is told."""

    label: str
    months: int | None


def told_date(day: date, how: Coarseness, through: date) -> ToldDate:
    """
    Make a date of a primary coarse.

    Args:
        through: the last day of the data cut.

    >>> told_date(date(2020, 5, 3), Coarseness("year", "year"), date(2024, 12, 31))
    ToldDate(label='2020', months=48)
    >>> told_date(date(2020, 5, 3), Coarseness("quarter", "quarter"), date(2024, 12, 31))
    ToldDate(label='2020Q2', months=54)
    >>> told_date(date(2020, 5, 3), Coarseness("years of 5", "years of", years=5), date(2024, 12, 31))
    ToldDate(label='2020-2024', months=0)
    """
    if how.way == DAY:
        return ToldDate(day.isoformat(), None)
    label, last = _period(day, how)
    step = step_months(how)
    whole = (through - last).days / DAYS_PER_MONTH / step
    return ToldDate(label, max(int(whole), 0) * step)


def step_months(how: Coarseness) -> int:
    """Say in which steps follow-up of joints in place is told, in months: those of the date."""
    return MONTHS_PER[YEAR if how.way == YEARS_OF else how.way]


def _period(day: date, how: Coarseness) -> tuple[str, date]:
    """Name the period of a day, and give its last day."""
    if how.way == YEARS_OF:
        first = day.year // how.years * how.years
        return f"{first}-{first + how.years - 1}", date(first + how.years - 1, 12, 31)
    if how.way == MONTH:
        return f"{day:%Y-%m}", _month_end(day.year, day.month)
    if how.way == QUARTER:
        number = (day.month + 2) // 3
        return f"{day.year}Q{number}", _month_end(day.year, 3 * number)
    return f"{day.year}", date(day.year, 12, 31)


def _month_end(year: int, month: int) -> date:
    return date(year + month // _MONTHS_A_YEAR, month % _MONTHS_A_YEAR + 1, 1) - timedelta(days=1)
