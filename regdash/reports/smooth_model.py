"""What comes back where the hazard is asked for along a field of numbers."""

from dataclasses import dataclass

import numpy as np

from regdash.grouping import Grouping
from regdash.reports.measured import Measured
from regdash.reports.model import Head, LeftOut, TestRow


@dataclass(frozen=True)
class SmoothRow:
    """Hazard of revision at one value over that at the reference; and the joints from there up to the next value."""

    value: float | None  # None: the row of all that lie outside the range that is shown
    from_value: float | None  # of those counted; None: from the smallest
    to_value: float | None  # itself among them; None: to the largest
    joints: int | None
    revisions: int | None
    hazard_ratio: float | None
    lower: float | None
    upper: float | None
    withheld: str | None = None

    @property
    def counted(self) -> str:
        """
        Say of which values the joints are counted.

        >>> SmoothRow(3, 3, 4, *(None,) * 5).counted, SmoothRow(None, 30, None, *(None,) * 5).counted
        ('3–4', '30 and over')
        """
        first, last = self.from_value, self.to_value
        if first is None:
            return "all" if last is None else f"up to {last:g}"
        if last is None:
            return f"{first:g} and over"
        return f"{first:g}" if first == last else f"{first:g}–{last:g}"


@dataclass(frozen=True, eq=False)
class SmoothCurve:
    """The ratio at every value of the range that is shown, with pointwise limits; what cannot be stated is NaN."""

    values: np.ndarray  # (n,) rising
    ratio: np.ndarray  # (n,)
    lower: np.ndarray  # (n,)
    upper: np.ndarray  # (n,)


@dataclass(frozen=True)
class SmoothReport:
    """How the hazard of revision goes along a field of numbers, among joints that are alike in others."""

    head: Head
    over: Measured
    reference: float
    named: bool  # the reference was asked for; else it is the median
    knots: tuple[float, ...]
    knot_percentiles: tuple[float, ...]
    low: float  # the range that is shown
    high: float
    adjust: tuple[Grouping, ...]
    rows: tuple[SmoothRow, ...]
    curve: SmoothCurve  # of no value where it is withheld
    tests: tuple[TestRow, ...]
    model: str  # in one sentence
    modelled: int | None  # joints in it
    left_out: tuple[LeftOut, ...]
    robust: str | None = None  # whose joints may resemble each other
    clusters: int | None = None  # how many of them are in the model
