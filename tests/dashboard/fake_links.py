"""The part of the double that answers questions about links, and keeps what is decided on them."""

from dataclasses import replace
from typing import Any

from regdash.cohort import Cohort
from regdash.errors import LinkError
from regdash.reports.reviewed_links import ACCEPTED, OPEN, UNDONE, PairLine, PairReport, ReviewReport, ReviewRow
from regdash.reports.submitted_rows import RowsHead

LIKELY = ReviewRow(
    "H002-0000002", "H001-0000007", "knee", "H002", "2023-05-06", "near pseudonym", "likely", "side, sex", False, OPEN
)
HELD = replace(LIKELY, revision="H012-0000009", hospital="H012", method="primary on the other side", is_held=True)
DONE = replace(LIKELY, revision="H001-0000004", state=ACCEPTED, decided="analyst 1, 2024-02-03: seen on the label")
CAUTION = "A revision without a primary is counted in no risk."


class FakeLinks:
    """Answers the questions about links."""

    links: tuple[ReviewRow, ...] = (LIKELY, HELD, DONE)
    decisions: tuple[tuple[str, ...], ...] = ()
    refusal: str | None = None  # of every decision

    def _think(self, question: str, about: Any) -> None:
        raise NotImplementedError

    def link_review(self, cohort: Cohort) -> ReviewReport:
        self._think("link_review", str(cohort))
        return ReviewReport(_head(), self.links)

    def link_pair(self, revision_id: str, primary_id: str) -> PairReport:
        self._think("link_pair", (revision_id, primary_id))
        row = next(row for row in self.links if (row.revision, row.primary) == (revision_id, primary_id))
        lines = (
            PairLine("record", revision_id, primary_id, None),
            PairLine("patient", "P222222223", "P222222222", False),
            PairLine("side", "left", "left", True),
            PairLine("femoral: out, in", "KF001-3A lot L0000001", "KF001-3A lot L0000001 serial SN7700112345", True),
        )
        return PairReport(_head(), row, lines)

    def accept_link(self, revision_id: str, primary_id: str, why: str) -> None:
        self._decide(revision_id, ACCEPTED, (ACCEPTED, revision_id, primary_id, why))

    def undo_link(self, revision_id: str, why: str) -> None:
        self._decide(revision_id, UNDONE, (UNDONE, revision_id, why))

    def _decide(self, revision_id: str, state: str, decision: tuple[str, ...]) -> None:
        if self.refusal:
            raise LinkError(self.refusal)
        self.decisions += (decision,)
        told = f"analyst 2, 2024-05-06: {decision[-1]}"
        rows = (replace(row, state=state, decided=told) if row.revision == revision_id else row for row in self.links)
        self.links = tuple(rows)


def _head() -> RowsHead:
    return RowsHead("links to review", (), (), "2024-12-31.1", "By serial number and pseudonym.", (CAUTION,))
