"""What became of the rows that each sender has sent."""

from regdash.cohort import Cohort
from regdash.reports.findings import rows_head
from regdash.reports.submitted_rows import ReceivedReport, ReceivedRow, senders
from regdash.store.cuts import Cut
from regdash.store.sqlfiles import statement

SENT = (
    "Rows of all files of each sender's submissions of one kind, as known on the cut's known-as-of date: received = "
    "accepted + held + rejected + known already. A row that was accepted or held, and then replaced by a correction, "
    "counts as what it was."
)


def received_report(cut: Cut, cohort: Cohort) -> ReceivedReport:
    """
    Count rows by what became of them, for each sender and kind; a filter's words on the hospital are followed.

    Rows are of a sender, not of a patient, and one patient's operation is several: none is withheld for being small.
    """
    asked = senders(cohort)
    rows = tuple(ReceivedRow(*row) for row in cut.rows(statement("queries/received"), **asked.bound))
    return ReceivedReport(rows_head(cut, asked, "rows received", SENT), rows)
