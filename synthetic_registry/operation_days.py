"""
When operations happen: growth through the years, a slump with its rebound, months and weekdays.
Days count from the register's first day, which is 0.
"""

from dataclasses import dataclass
from datetime import date, timedelta
from functools import cached_property

import numpy as np

from synthetic_registry.parameters import DAYS_A_YEAR, Structure, Trend


@dataclass(frozen=True)
class OperationDays:
    """The register's days from its first, `start`, to the last one that counts, `through`."""

    start: date
    through: date
    structure: Structure

    @property
    def last(self) -> int:
        """Number of the last day."""
        return (self.through - self.start).days

    @property
    def years(self) -> int:
        """How many calendar years the register touches."""
        return self.through.year - self.start.year + 1

    def number(self, day: date) -> int:
        """Count a date in days from the first."""
        return (day - self.start).days

    def date_of(self, day: int) -> date:
        """Find the date of a numbered day."""
        return self.start + timedelta(days=int(day))

    @cached_property
    def _dates(self) -> np.ndarray:
        return np.datetime64(self.start, "D") + np.arange(self.last + 1)

    def calendar_years(self, days: np.ndarray) -> np.ndarray:
        """Find the calendar year of each day, also of days before the first; int16."""
        dates = np.datetime64(self.start, "D") + days.astype("timedelta64[D]")
        return (dates.astype("datetime64[Y]").astype(np.int64) + 1970).astype(np.int16)

    def year_numbers(self, days: np.ndarray) -> np.ndarray:
        """Number calendar years from 0; days before the register count into its first year."""
        return np.maximum(self.calendar_years(days) - self.start.year, 0).astype(np.int16)

    @cached_property
    def season(self) -> np.ndarray:
        """How many operations each day sees beside an ordinary one, growth left out; largest 1."""
        months = self._dates.astype("datetime64[M]").astype(np.int64) % 12
        weekdays = (self._dates.astype(np.int64) + 3) % 7  # day 0 of numpy's calendar was a Thursday
        weight = np.array(self.structure.months)[months] * np.array(self.structure.weekdays)[weekdays]
        for first, last, factor in (self.structure.slump, self.structure.rebound):
            weight[max(self.number(first), 0) : max(self.number(last) + 1, 0)] *= factor
        return weight / weight.max()

    @cached_property
    def weight(self) -> np.ndarray:
        """Relative number of operations on each day."""
        return self.season * (1 + self.structure.growth) ** (np.arange(self.last + 1) / DAYS_A_YEAR)

    def draw(self, rng: np.random.Generator, count: int, by_year: np.ndarray | float = 1.0) -> np.ndarray:
        """Draw days of operation, more or less of them in each year if wished; (count,) int32."""
        bounds = np.cumsum(self.weight * np.broadcast_to(by_year, self.years)[self._years])
        return np.searchsorted(bounds, rng.random(count) * bounds[-1], side="right").astype(np.int32)

    def shares(self, trend: Trend) -> np.ndarray:
        """Follow a trend through the register's calendar years; (years,)."""
        at = np.arange(self.years) + self.start.year
        return np.interp(at, [trend.from_year, trend.to_year], [trend.start, trend.end])

    @cached_property
    def operations(self) -> np.ndarray:
        """Relative number of operations in each calendar year; (years,), sums to 1."""
        total = np.bincount(self._years, weights=self.weight, minlength=self.years)
        return total / total.sum()

    @cached_property
    def _years(self) -> np.ndarray:
        return self.year_numbers(np.arange(self.last + 1))
