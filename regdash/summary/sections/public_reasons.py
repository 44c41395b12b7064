"""Why second operations are done, in plain words; which reasons are frequent, without a number."""

from regdash.cohort import Cohort
from regdash.summary.asker import Asker
from regdash.summary.document import Bullets, Paragraph, Section
from regdash.summary.edition import Question
from regdash.summary.plain import REASONS
from regdash.summary.sections.public_risk import least_joints

MOST = 3


def section(asker: Asker) -> Section:
    """Name the most frequent reasons of each question."""
    said = [
        sentence
        for question in asker.edition.questions["reasons"]
        for _, cohort in asker.asked(question)
        if (sentence := _said(asker, question, cohort))
    ]
    intro = Paragraph("Surgeons write down why they did the second operation. These are the reasons they wrote most.")
    none = Paragraph("There are too few second operations to tell.")
    blocks = (intro, Bullets(tuple(said))) if said else (none,)
    return Section("public-reasons", "Why a second operation is done", blocks)


def _said(asker: Asker, question: Question, cohort: Cohort) -> str | None:
    report = asker.desk.reasons(cohort, (), asker.edition.reason_years)
    if (report.head.joints or 0) < least_joints(asker):
        return None
    most = sorted(report.rows, key=lambda row: (-(row.revisions or 0), row.reason))
    least = asker.others.withhold_counts_under
    known = [row for row in most if row.reason in REASONS and (row.revisions or 0) >= least]
    names = sorted(REASONS[row.reason] for row in known[:MOST])
    return f"{question.title}: {'; '.join(names)}." if names else None
