"""Hospitals and surgeons by plain formulas, for the fake desk."""

from typing import Any

from regdash.cohort import Cohort
from regdash.reports.model import Group, RiskReport
from regdash.reports.unit_profile import ProfilesReport, UnitProfile

CODES = {"hospitals": ("H001", "H002", "H012"), "surgeons": ("S0001", "S0123", "not recorded")}
WORD = {"hospitals": "hospital", "surgeons": "surgeon"}
FEW = "fewer than 40 joints"


class FakeUnits:
    """Answers what is asked about units; `head_of`, `risk` and `_think` are those of the fake desk."""

    def profiles(
        self, kind: str, cohort: Cohort, years: float, view: str, *, endpoint: str = "any-revision"
    ) -> ProfilesReport:
        desk: Any = self
        desk._think("units", (kind, str(cohort), years, view, endpoint))
        groups = tuple(Group(c, cohort.narrowed(f"{WORD[kind]}={c.replace(' ', '-')}").words) for c in CODES[kind])
        rows = tuple(unit_row(code, n, years, kind) for n, code in enumerate(CODES[kind]))
        return ProfilesReport(desk.head_of(f"{kind}: counts", view, cohort), kind, years, groups, rows)

    def unit_risk(
        self, kind: str, code: str, cohort: Cohort, years: Any, view: str, *, endpoint: str = "any-revision"
    ) -> RiskReport:
        from regdash import grouping
        from tests.dashboard.fake_desk import renamed_risk

        desk: Any = self
        desk.asked.append(("unit", (kind, code, str(cohort))))
        report = renamed_risk(
            desk.risk(cohort.without("class"), grouping.parse("class"), years, view, endpoint),
            {"total": code, "partial": "all others"},
        )
        own, others = report.groups
        word = f"{WORD[kind]}={code}"
        groups = (
            Group(own.label, (*cohort.words, word)),
            Group(others.label, (*cohort.words, word.replace("=", "!="))),
        )
        return RiskReport(report.head, groups, report.years, report.rows, report.curves)


def unit_row(code: str, n: int, years: float, kind: str) -> UnitProfile:
    few = n == 2
    return UnitProfile(
        group=code,
        joints=12 if few else 4120 - 800 * n,
        patients=11 if few else 3900 - 780 * n,
        revisions=1 if few else 160 - 20 * n,
        years=years,
        at_risk=3 if few else 820 - 90 * n,
        estimate=None if few else 0.052 + n / 100,
        lower=None if few else 0.044 + n / 100,
        upper=None if few else 0.061 + n / 100,
        implant_years=80.0 if few else 29400.0 - 6000 * n,
        per_100_implant_years=None if few else 0.54,
        rate_lower=None if few else 0.46,
        rate_upper=None if few else 0.63,
        joints_last_365_days=0 if few else 310 - 40 * n,
        partial_share=None if few else 0.09 + n / 10,
        first_date="2005-01-03",
        last_date="2024-12-30",
        completeness=None if few or kind == "surgeons" else 0.984,
        rate_withheld=FEW if few else None,
        withheld="fewer than 40 joints at risk" if few else None,
    )
