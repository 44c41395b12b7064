"""The questions on what was done, as a desk asks them."""

from collections.abc import Sequence
from contextlib import AbstractContextManager
from dataclasses import replace
from typing import TYPE_CHECKING, Any, TypeVar

from regdash.cohort import Cohort
from regdash.grouping import Grouping
from regdash.reports.apart import by_joint
from regdash.reports.policy import Policy
from regdash.reports.wording import JOINTS_APART
from regdash.store.cuts import Cut

if TYPE_CHECKING:
    from regdash.reports.done_model import ActivityReport, RevisionListReport, RevisionsReport

AnyDone = TypeVar("AnyDone", bound=Any)


class DoneDesk:
    """Questions about operations by their own date. Joints are never mixed."""

    policy: Policy

    def _asking(self) -> AbstractContextManager[Cut]:
        raise NotImplementedError

    def activity(
        self, cohort: Cohort, by: Sequence[Grouping] = (), per: str = "year", done: str = ""
    ) -> "ActivityReport":
        """Ask how many primaries and revisions were done, as `activity_report`."""
        from regdash.reports.activity import activity_report

        with self._asking() as cut:
            return _noted(activity_report(cut, self.policy, cohort, by_joint(cut, cohort, by), per, done), by)

    def revisions(
        self, cohort: Cohort, by: Sequence[Grouping] = (), detail: bool = False, first: bool = False
    ) -> "RevisionsReport":
        """Ask what revisions were done for, and what was done at them, as `revisions_report`."""
        from regdash.reports.revisions import revisions_report

        with self._asking() as cut:
            return _noted(revisions_report(cut, self.policy, cohort, by_joint(cut, cohort, by), detail, first), by)

    def revision_list(
        self,
        cohort: Cohort,
        offset: int = 0,
        limit: int | None = 200,
        order: str = "done_date",
        first: bool = False,
    ) -> "RevisionListReport":
        """List revisions, as `revision_list_report`."""
        from regdash.reports.revisions_listed import revision_list_report

        with self._asking() as cut:
            return revision_list_report(cut, self.policy, cohort, offset, limit, order, first)


def _noted(report: AnyDone, asked_by: Sequence[Grouping]) -> AnyDone:
    """Say in an answer that its joints were kept apart, where that was not asked for."""
    if report.head.by == tuple(asked_by):
        return report
    noted: AnyDone = replace(report, head=replace(report.head, cautions=(JOINTS_APART, *report.head.cautions)))
    return noted
