"""Mortality from plain formulas, for a desk without a database."""

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from regdash.cohort import Cohort
from regdash.grouping import Grouping
from regdash.reports.model import Curve, Group
from regdash.reports.mortality_model import MortalityHead, MortalityReport, MortalityRow

HEAD = MortalityHead(
    measure="mortality after the primary operation",
    cohort=Cohort(),
    by=(),
    cut="2024-12-31.1",
    operations=90412,
    joints=96412,
    patients=81000,
    deaths=20117,
    deaths_known_through="2024-12-20",
    median_follow_up=7.4,
    method="Mortality is 1 − Kaplan–Meier of death (a source).",
    cautions=("Groups were not chosen by chance: patients differ.", "Nothing here is advice for one patient."),
    settings={"minimum_at_risk": 40},
)


def mortality_of(
    cohort: Cohort,
    by: Sequence[Grouping],
    days: Sequence[int],
    beside: Cohort | None,
    groups: Sequence[Group],
    curves: Sequence[Curve],
) -> MortalityReport:
    """Each curve's own estimates, by day; the last group of three or more is too small for any."""
    rows = [row(curve, day, n) for n, curve in enumerate(curves) for day in days]
    head = replace(HEAD, cohort=cohort, by=tuple(by), beside=beside)
    return MortalityReport(head, tuple(groups), tuple(days), tuple(rows), tuple(curves))


def row(curve: Curve, day: int, n: int) -> MortalityRow:
    left = int(dict(curve.at_risk)[0.0] * 0.95 ** (day / 365.25))
    risk = (0.0004 if day <= 90 else 0.0012) * (n + 1) * (day / 30) ** 0.6
    figures: Any = (risk, 0.8 * risk, 1.25 * risk) if n < 2 else (None, None, None)
    why = None if n < 2 else "fewer than 40 operations at risk"
    return MortalityRow(curve.group, day, left, int(left * risk), *figures, why)
