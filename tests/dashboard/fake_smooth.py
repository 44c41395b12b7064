"""Curves along a field of numbers that follow from a plain formula: the ratio falls by a tenth from value to value."""

from dataclasses import replace
from typing import Any

import numpy as np

from regdash.cohort import Cohort
from regdash.errors import FilterError
from regdash.grouping import Grouping
from regdash.reports.measured import measured
from regdash.reports.model import IMPLANT_VIEW, LeftOut, TestRow
from regdash.reports.smooth_model import SmoothCurve, SmoothReport, SmoothRow

LOW, HIGH = 2, 20
STEPS = (2, 5, 10, 20)
BEYOND = "over 20, the 95th percentile, the curve would be straight by assumption alone"


class FakeSmooth:
    """The part of the desk that draws the hazard along a field of numbers."""

    def smooth(
        self: Any,
        cohort: Cohort,
        over: str,
        adjust: tuple[Grouping, ...],
        reference: float | None = None,
        endpoint: str = "any-revision",
    ) -> SmoothReport:
        self._think("smooth", (str(cohort), over, ",".join(map(str, adjust)), reference))
        self.endpoints.append(("smooth", endpoint))
        if reference is not None and not LOW <= reference <= HIGH:
            raise FilterError(f"The reference {reference:g} lies outside {LOW} to {HIGH}.")
        at = 10.0 if reference is None else reference
        values = np.arange(LOW, HIGH + 1, dtype=float)
        ratio = 0.9 ** (values - at)
        width = 0.05 * np.abs(values - at)
        rows = [_row(value, at, n) for n, value in enumerate(STEPS)]
        return SmoothReport(
            head=replace(self.head_of("hazard ratio of revision", IMPLANT_VIEW, cohort), by=(measured(over),)),
            over=measured(over),
            reference=at,
            named=reference is not None,
            knots=(2.0, 6.0, 11.0, 20.0),
            knot_percentiles=(0.05, 0.35, 0.65, 0.95),
            low=LOW,
            high=HIGH,
            adjust=adjust,
            rows=(*rows, SmoothRow(None, 21, None, 300, 9, None, None, None, BEYOND)),
            curve=SmoothCurve(values, ratio, ratio * np.exp(-width), ratio * np.exp(width)),
            tests=(
                TestRow("association", "does the hazard go with it?", 30.0, 3, 0.0000014),
                TestRow("non-linearity", "does it bend?", 1.2, 2, 0.5488),
                TestRow("proportionality", "does it change?", None, None, None, "too few days with events"),
            ),
            model="Cox's model of the hazard of revision in 6,000 joints, 240 of them revised.",
            modelled=6000,
            left_out=(LeftOut(over, 412),),
            robust="surgeon" if over == "volume" else None,
            clusters=64 if over == "volume" else None,
        )


def _row(value: float, at: float, n: int) -> SmoothRow:
    ratio, width = 0.9 ** (value - at), 0.05 * abs(value - at)
    last = float([*STEPS[1:], HIGH + 1][n] - 1)
    return SmoothRow(value, value, last, 1000 + n, 40 + n, ratio, ratio * np.exp(-width), ratio * np.exp(width))
