"""The questions about submitted rows, as a desk asks them."""

from collections.abc import Iterator
from contextlib import AbstractContextManager, closing, contextmanager
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from regdash.cohort import Cohort
from regdash.reports.policy import Policy
from regdash.store.cuts import Cut

if TYPE_CHECKING:
    from regdash.reports.corrected import CorrectionsReport
    from regdash.reports.cut_contents import CutContents
    from regdash.reports.linked import LinkedReport
    from regdash.reports.reviewed_links import PairReport, ReviewReport
    from regdash.reports.submitted_rows import FindingsReport, FoundRowsReport, ReceivedReport, UnitsReport

PAGE = 200
FIRST_ORDER = "submission"


class RowsDesk:
    """
    Questions about the rows that one data cut was made from. Of a cohort the words on the hospital are followed; where
    revisions are asked about, those that `RecordsDesk` takes.
    """

    policy: Policy
    _store: Path

    def _asking(self) -> AbstractContextManager[Cut]:
        raise NotImplementedError

    def findings(self, cohort: Cohort) -> "FindingsReport":
        """Ask what rules found in submitted rows, as `findings_report`."""
        from regdash.reports.findings import findings_report

        with self._asking() as cut:
            return findings_report(cut, self.policy, cohort)

    def found_rows(
        self,
        cohort: Cohort,
        rule: str | None = None,
        file: str | None = None,
        offset: int = 0,
        limit: int = PAGE,
        order: str = FIRST_ORDER,
    ) -> "FoundRowsReport":
        """List the rows that rules found, as `found_rows_report`."""
        from regdash.reports.findings import found_rows_report

        with self._asking() as cut:
            return found_rows_report(cut, self.policy, cohort, rule, file, offset, limit, order)

    def received(self, cohort: Cohort) -> "ReceivedReport":
        """Ask what became of the rows that each sender has sent, as `received_report`."""
        from regdash.reports.received import received_report

        with self._asking() as cut:
            return received_report(cut, cohort)

    def units(self, cohort: Cohort) -> "UnitsReport":
        """Ask which hospitals and surgeons have unusual figures, as `units_report`."""
        from regdash.reports.findings import units_report

        with self._asking() as cut:
            return units_report(cut, self.policy, cohort)

    def contents(self, name: str) -> "CutContents":
        """
        Count what any data cut of the store holds, as `cut_contents`.

        Raises:
            StoreError: there is no such cut, or it is of another release.
        """
        from regdash.reports.cut_contents import cut_contents

        with self._of_cut(name) as cut:
            return cut_contents(cut, self.policy)

    @contextmanager
    def _of_cut(self, name: str) -> Iterator[Cut]:
        """Ask any cut of the store: the open one, or another that is opened for one question."""
        with self._asking() as own:
            if name == own.name:
                yield own
            else:
                with closing(Cut(own.store, name)) as other:
                    yield other

    def corrections(self, name: str, cohort: Cohort) -> "CorrectionsReport":
        """
        Ask who corrected what in the records of any data cut of the store, as `corrections_report`.

        Raises:
            StoreError: there is no such cut, or it is of another release.
        """
        from regdash.reports.corrected import corrections_report

        with self._of_cut(name) as cut:
            return corrections_report(cut, self.policy, cohort)

    def link_review(self, cohort: Cohort) -> "ReviewReport":
        """Ask which links wait for people, and what they decided, as `review_report`."""
        from regdash.reports.link_review import review_report

        with self._asking() as cut:
            return review_report(cut, self.policy, cohort)

    def link_pair(self, revision_id: str, primary_id: str) -> "PairReport":
        """Ask what two records of a link to review say, as `pair_report`."""
        from regdash.reports.link_review import pair_report

        with self._asking() as cut:
            return pair_report(cut, self.policy, revision_id, primary_id)

    def accept_link(self, revision_id: str, primary_id: str, why: str) -> None:
        """Join a revision to a primary, as `accept_link`; cuts stay as they are."""
        from regdash.reports.link_review import accept_link

        accept_link(self._store, revision_id, primary_id, why)

    def undo_link(self, revision_id: str, why: str) -> None:
        """Take a revision from its primary, as `undo_link`; cuts stay as they are."""
        from regdash.reports.link_review import undo_link

        undo_link(self._store, revision_id, why)

    def linked(self, cohort: Cohort, by: tuple[str, ...] = ()) -> "LinkedReport":
        """Ask which share of the revisions has a primary, as `linked_report`; joints are kept apart."""
        from regdash.reports.linked import linked_report
        from regdash.reports.records_desk import apart, noted

        with self._asking() as cut:
            asked = apart(cut, cohort, by, None)
            report = linked_report(cut, self.policy, asked)
            return replace(report, head=noted(report.head, asked, by))
