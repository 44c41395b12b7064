"""The questions about hospitals and surgeons, as a desk asks them."""

from collections.abc import Sequence
from contextlib import AbstractContextManager
from typing import TYPE_CHECKING

from regdash.cohort import Cohort
from regdash.endpoints import ANY_REVISION
from regdash.grouping import Grouping
from regdash.reports.apart import by_joint, noted
from regdash.reports.model import IMPLANT_VIEW, RiskReport
from regdash.reports.policy import Policy
from regdash.store.cuts import Cut

Counts = dict[tuple[str, ...], int]  # joints by the labels of a group, field by field

if TYPE_CHECKING:
    from regdash.reports.own_joints import OwnJoints
    from regdash.reports.unit_profile import ProfilesReport
    from regdash.reports.unit_revisions import UnitRevisions


class UnitsDesk:
    """Questions about the units of one data cut. `kind` is hospitals or surgeons; joints are never mixed."""

    policy: Policy

    def _asking(self) -> AbstractContextManager[Cut]:
        raise NotImplementedError

    def profiles(
        self,
        kind: str,
        cohort: Cohort,
        years: float = 10.0,
        view: str = IMPLANT_VIEW,
        endpoint: str = ANY_REVISION.key,
    ) -> "ProfilesReport":
        """Ask what each hospital or surgeon does and how its primaries last, as `profiles_report`."""
        from regdash.reports.units import profiles_report

        with self._asking() as cut:
            apart = by_joint(cut, cohort, ())
            report = profiles_report(cut, self.policy, kind, cohort, apart, years, view, endpoint)
            return noted(report, report.head.by[len(apart) :])

    def unit_risk(
        self,
        kind: str,
        code: str,
        cohort: Cohort,
        years: Sequence[float] = (1.0, 5.0, 10.0, 15.0),
        view: str = IMPLANT_VIEW,
        endpoint: str = ANY_REVISION.key,
    ) -> RiskReport:
        """Ask how the primaries of one unit last beside those of all others, as `unit_risk_report`."""
        from regdash.reports.units import unit_risk_report

        with self._asking() as cut:
            apart = by_joint(cut, cohort, ())
            return noted(unit_risk_report(cut, self.policy, kind, code, cohort, apart, years, view, endpoint), ())

    def joints_by_unit(self, kind: str, cohort: Cohort, by: Sequence[Grouping]) -> dict[str, Counts]:
        """Count every unit's joints by group, as `joints_by_unit`; nothing is withheld."""
        from regdash.reports.unit_counts import joints_by_unit

        with self._asking() as cut:
            return joints_by_unit(cut, kind, cohort, by)

    def joints_of_groups(self, cohort: Cohort, by: Sequence[Grouping]) -> Counts:
        """Count joints by group, as `joints_of_groups`; nothing is withheld."""
        from regdash.reports.unit_counts import joints_of_groups

        with self._asking() as cut:
            return joints_of_groups(cut, cohort, by)

    def unit_revisions(self, kind: str, cohort: Cohort, years: Sequence[float]) -> "UnitRevisions":
        """Count every unit's revised joints by reason and time, as `unit_revisions`; nothing is withheld."""
        from regdash.reports.unit_revisions import unit_revisions

        with self._asking() as cut:
            return unit_revisions(cut, kind, cohort, years)

    def own_joints(self, cohort: Cohort, maker: str) -> "OwnJoints":
        """Count joints by which implants of a maker they hold together, as `own_joints`; nothing is withheld."""
        from regdash.reports.own_joints import own_joints

        with self._asking() as cut:
            return own_joints(cut, cohort, maker)
