"""
What every step of drawing needs: parameters, calendar, units, implants, patients and the seed.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from synthetic_registry.implants import Implants
from synthetic_registry.operation_days import OperationDays
from synthetic_registry.parameters import Parameters, Trend
from synthetic_registry.patients import Primaries
from synthetic_registry.streams import stream
from synthetic_registry.units import Units


@dataclass(frozen=True)
class Setting:
    """The world before anything has happened in it."""

    parameters: Parameters
    days: OperationDays
    units: Units
    implants: Implants
    primaries: Primaries
    seed: int

    @property
    def count(self) -> int:
        """How many primary joints there are, those from before the register's start included."""
        return len(self.primaries.day)

    def stream(self, part: str) -> np.random.Generator:
        """Open the random stream of one part of the work."""
        return stream(self.seed, self.parameters.stream(part))

    def by_year(
        self, trends: Mapping[str, Trend], listed: tuple[str, ...], year: np.ndarray, draw: np.ndarray
    ) -> np.ndarray:
        """Turn uniform draws into words whose shares follow their trends; uint8 positions in `listed`."""
        bounds = np.cumsum([self.days.shares(trend) for trend in trends.values()], axis=0)
        bounds /= bounds[-1]
        place = np.zeros(len(year), np.uint8)
        for bound in bounds[:-1]:
            place += draw >= bound[year]
        return np.array([listed.index(word) for word in trends], np.uint8)[place]
