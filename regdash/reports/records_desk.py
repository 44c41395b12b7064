"""The questions about records, their completeness and their timeliness, as a desk asks them."""

from collections.abc import Sequence
from contextlib import AbstractContextManager, closing
from dataclasses import replace
from typing import TYPE_CHECKING

from regdash.cohort import Cohort
from regdash.errors import StoreError
from regdash.grouping import MOST_GROUPS, Grouping
from regdash.reports.apart import by_joint, joints_held
from regdash.reports.policy import Policy
from regdash.reports.records import Asked, RecordsHead, checked
from regdash.reports.wording import JOINTS_APART
from regdash.store.cuts import Cut, find_cut

if TYPE_CHECKING:
    from regdash.reports.changes import ChangesReport
    from regdash.reports.complete_through import CompleteThroughReport
    from regdash.reports.completeness import CompletenessReport
    from regdash.reports.missingness import MissingReport
    from regdash.reports.timeliness import DelaysReport
    from regdash.reports.triangle import TriangleReport


class RecordsDesk:
    """
    Questions about the records of one data cut. Joints are never mixed; kinds are not where completeness is asked.

    `cohort` takes the words that speak of any operation (`records.WORDS`), `by` keys of `records.UNITS`, `kind` is
    primary, revision or None for both.
    """

    policy: Policy
    most_groups: int | None = MOST_GROUPS  # of records that an answer may have; None for any number

    def _asking(self) -> AbstractContextManager[Cut]:
        raise NotImplementedError

    def completeness(
        self, cohort: Cohort | None = None, by: tuple[str, ...] = (), kind: str | None = None
    ) -> "CompletenessReport":
        """Ask which share of what was done has been sent, as `completeness_report`."""
        from regdash.reports.completeness import completeness_report

        with self._asking() as cut:
            asked = apart(cut, cohort, by, kind, self.most_groups)
            report = completeness_report(cut, self.policy, asked)
            return replace(report, head=noted(report.head, asked, by))

    def delays(self, cohort: Cohort | None = None, by: tuple[str, ...] = (), kind: str | None = None) -> "DelaysReport":
        """Ask how long records take to arrive, as `delays_report`."""
        from regdash.reports.timeliness import delays_report

        with self._asking() as cut:
            asked = apart(cut, cohort, by, kind, self.most_groups)
            report = delays_report(cut, self.policy, asked)
            return replace(report, head=noted(report.head, asked, by))

    def triangle(
        self,
        cohort: Cohort | None = None,
        by: tuple[str, ...] = (),
        kind: str | None = None,
        months: int | None = None,
        period: str = "month",
    ) -> "TriangleReport":
        """Ask how the operations of each month or quarter came in, as `triangle_report`."""
        from regdash.reports.triangle import triangle_report

        with self._asking() as cut:
            asked = apart(cut, cohort, by, kind, self.most_groups)
            report = triangle_report(cut, self.policy, asked, months, period)
            return replace(report, head=noted(report.head, asked, by))

    def missing(
        self, cohort: Cohort | None = None, by: tuple[str, ...] = (), kind: str | None = None
    ) -> "MissingReport":
        """Ask which fields are missing how often, as `missing_report`."""
        from regdash.reports.missingness import missing_report

        with self._asking() as cut:
            asked = apart(cut, cohort, by, kind, self.most_groups)
            report = missing_report(cut, self.policy, asked)
            return replace(report, head=noted(report.head, asked, by))

    def complete_through(self, hospital: str | None = None) -> "CompleteThroughReport":
        """Ask through which date each feed is complete, as `complete_through_report`."""
        from regdash.reports.complete_through import complete_through_report

        with self._asking() as cut:
            return complete_through_report(cut, self.policy, hospital)

    def changes(
        self, earlier: str, cohort: Cohort, by: Sequence[Grouping] = (), years: Sequence[float] = (1.0, 5.0, 10.0)
    ) -> "ChangesReport":
        """Ask what moved between an earlier cut and this one, and why, as `changes_report`; `cohort` is of joints."""
        from regdash.reports.changes import changes_report
        from regdash.store.two_cuts import TwoCuts

        with self._asking() as cut:
            before, kept_apart = find_cut(cut.store, earlier), by_joint(cut, cohort, by)
            if before.through_date > cut.manifest.through_date:
                raise StoreError(f"Data cut {before.cut} ends after {cut.name}. Name the earlier cut first.")
            with closing(TwoCuts(cut.store, before, cut.manifest, cut.question)) as two:
                report = changes_report(cut, two, self.policy, before.cut, cohort, kept_apart, years)
        if kept_apart == tuple(by):
            return report
        return replace(report, head=replace(report.head, cautions=(JOINTS_APART, *report.head.cautions)))


def apart(
    cut: Cut, cohort: Cohort | None, by: tuple[str, ...], kind: str | None, most: int | None = MOST_GROUPS
) -> Asked:
    """Put the joint before what groups the records, where there are several and nothing tells them apart."""
    asked = Asked(checked(cohort or Cohort()), by, kind, most)
    if "joint" in by or len(joints_held(cut, asked.cohort)) < 2:
        return asked
    return replace(asked, by=("joint", *by))


def noted(head: RecordsHead, asked: Asked, by: tuple[str, ...]) -> RecordsHead:
    """Say in an answer that joints were kept apart, where that was not asked for."""
    return head if asked.by == by else replace(head, cautions=(JOINTS_APART, *head.cautions))
