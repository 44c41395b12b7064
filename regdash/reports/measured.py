"""A field by its own numbers, where bands would hide how the hazard goes along it."""

from dataclasses import dataclass

import numpy as np

from regdash import fields
from regdash.cohort import Known
from regdash.errors import FilterError
from regdash.grouping import UNKNOWN, Grouping
from regdash.suggest import nearest
from regdash.vocabulary import NOT_RECORDED

VOLUME = "volume"
TENTHS = 10  # in which the register holds decimal fields
MEASURED = (VOLUME, "age", "bmi")  # sizes of heads are numbers too, but few, and none lies between them


@dataclass(frozen=True)
class Measured(Grouping):
    """A field of numbers, each of which is a group."""

    @property
    def per_unit(self) -> int:
        """How many steps of the register make one of its unit."""
        return TENTHS if self.field.kind == "decimal" else 1

    @property
    def step(self) -> float:
        """What two neighbouring values differ by."""
        return 1 / self.per_unit

    def sql(self) -> str:
        """Say in SQL which value a joint has, in steps; UNKNOWN where it has none."""
        return f"coalesce(round({self.field.column} * {self.per_unit})::integer, {UNKNOWN})"

    def label(self, number: int, known: Known) -> str:
        """Write a value."""
        return NOT_RECORDED if number == UNKNOWN else f"{number / self.per_unit:g}"

    def scaled(self, values: np.ndarray) -> np.ndarray:
        """
        Put values on the scale on which the log hazard bends: a surgeon's volume by its ratios, all else as it is.

        >>> Measured(fields.FIELDS["volume"]).scaled(np.array([0.0, 1.0])).round(3).tolist()
        [0.0, 0.693]
        """
        values = np.asarray(values, dtype=float)
        return np.log1p(values) if self.field.key == VOLUME else values

    @property
    def scale(self) -> str:
        """That scale in words."""
        return f"log(1 + {self.field.key})" if self.field.key == VOLUME else self.field.key

    def held(self, value: float) -> bool:
        """Whether the register can hold a value."""
        return abs(value * self.per_unit - round(value * self.per_unit)) < 1e-9


def measured(key: str) -> Measured:
    """
    Find a field of numbers.

    Raises:
        FilterError: there is no such field, or it is none of numbers.
    """
    key = key.strip().lower()
    if key in MEASURED:
        return Measured(fields.FIELDS[key])
    is_none = f"{key} is no number" if key in fields.FIELDS else f"There is no field {key}"
    raise FilterError(f"{is_none}, along which a curve could run. {nearest(key, MEASURED)}")
