"""The list of links for people to review: revisions without a primary, beside each that could be theirs."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar

from regdash.cohort import Cohort
from regdash.dashboard import wording
from regdash.dashboard.sections import Section, Table
from regdash.dashboard.sections_of_records import one_hospital
from regdash.dashboard.widgets.grid import Column, Row
from regdash.reports.reviewed_links import ACCEPTED, OPEN, UNDONE

if TYPE_CHECKING:
    from regdash.dashboard.questions import Questions
    from regdash.reports.reviewed_links import ReviewReport, ReviewRow

STATES = (OPEN, ACCEPTED, UNDONE)


class ReviewSection(Section):
    """Which links wait for somebody to look at them, and which decisions stand."""

    name = "review"
    about = "links to review: revisions without a primary, and those that could be theirs"
    words = ("joint", "hospital")
    enter = "both records"
    empty = "no link to review, and no decision"
    exports = "link candidates"
    columns: ClassVar = (
        Column("revision", "revision", left=True),
        Column("primary", "primary", left=True),
        Column("method", "method", left=True),
        Column("how sure", "confidence", left=True),
        Column("state", "state", left=True),
        Column("joint", "joint", left=True),
        Column("revised", "revised", left=True),
        Column("the same", "agrees", left=True),
    )

    def ask(self, desk: Questions, cohort: Cohort, by: tuple[str, ...]) -> ReviewReport:
        """Ask for open links and decisions."""
        return desk.link_review(cohort)

    def table(self, report: ReviewReport, width: int) -> Table:
        """One row a revision, primary and method."""
        return self.columns, [_review_row(row) for row in report.rows]

    def counts(self, report: ReviewReport) -> str:
        """Count what is open and what was decided."""
        held = sum(row.is_held for row in report.rows)
        states = [row.state for row in report.rows]
        open_links = states.count(OPEN) - held
        said = f"{wording.count(open_links)} open · {wording.count(held)} for hospitals to answer"
        return said + "".join(f" · {wording.count(states.count(state))} {state}" for state in STATES[1:])

    def sentence(self, report: ReviewReport, row: Row | None, chosen: int) -> str:
        """Say what was decided, or what the two records have in common."""
        if row is None:
            return super().sentence(report, row, chosen)
        link: ReviewRow = row.value
        if link.decided:
            return f"{link.state} by {link.decided}"
        held = "; a record is held, so its hospital must answer" if link.is_held else ""
        return f"revised on {link.revised} at {link.hospital}; the same: {link.agrees}{held}"

    def command(self, cohort: Cohort, by: tuple[str, ...], row: Row | None) -> str:
        """The command for one hospital, or for all."""
        return "regdash links --review" + "".join(f" --hospital {c.values[0]}" for c in one_hospital(cohort).conditions)


def _review_row(link: ReviewRow) -> Row:
    state = "held" if link.is_held else link.state
    confidence = link.confidence or wording.NO_FIGURE
    cells = (link.revision, link.primary, link.method, confidence, state, link.joint, link.revised, link.agrees)
    return Row(cells, link, (*cells[:3], link.confidence or None, (STATES.index(link.state), link.is_held), *cells[5:]))
