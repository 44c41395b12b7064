"""What was corrected, as a data cut has it: the log, newest first, and the cut whose figures it may have moved."""

from dataclasses import dataclass

from regdash.cohort import Cohort
from regdash.reports.policy import Policy
from regdash.reports.submitted_rows import RowsHead, senders
from regdash.store.corrections import Correction as Correction
from regdash.store.corrections import FieldCount, by_field, corrections_of
from regdash.store.cuts import Cut, list_cuts

METHOD = (
    "Each version of a record is set against the version before it in the order of its sender, field by field; one "
    "that only repeats is none. Counted: the operation counts in this cut; so do deaths and losses of its patients, "
    "entries of the catalogue that its components have, and every unit and month."
)
AFTER_A_CUT = (
    "A figure of an earlier cut is never changed: what a correction moved is between that cut and a later one."
)
NO_NOTES = "Notes are not shown."


@dataclass(frozen=True)
class CorrectionsReport:
    """Corrected fields, the newest first."""

    head: RowsHead
    rows: tuple[Correction, ...]
    fields: tuple[FieldCount, ...]  # the most frequent first
    before: str | None  # the cut before this one, where there is one


def corrections_report(cut: Cut, policy: Policy, cohort: Cohort) -> CorrectionsReport:
    """
    Answer: who corrected what, when and why? Of a cohort the words on the hospital are followed: the sender.

    Raises:
        PolicyError: small counts are withheld, and this is a list of records.
    """
    policy.refuse_single("the log of corrections")
    asked = senders(cohort)
    found = [
        one
        for one in reversed(corrections_of(cut))
        if (asked.only is None or one.hospital in asked.only) and one.hospital not in asked.others
    ]
    head = RowsHead("corrections", asked.followed, asked.not_followed, cut.name, METHOD, (AFTER_A_CUT, NO_NOTES))
    names = [other.cut for other in list_cuts(cut.store)]
    place = names.index(cut.name)
    return CorrectionsReport(head, tuple(found), tuple(by_field(found)), names[place - 1] if place else None)
