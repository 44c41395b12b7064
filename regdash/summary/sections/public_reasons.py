"""Why second operations are done, in plain words; which reasons are frequent, without a number."""

import numpy as np

from regdash.cohort import Cohort
from regdash.reports.unit_profile import KINDS
from regdash.summary.asker import Asker
from regdash.summary.disclosure import why_hidden
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
    named = [row for row in most if row.reason in REASONS and (row.revisions or 0) >= least][:MOST]
    if not named:
        return None
    if _tells(asker, cohort, [row.reason for row in named]):
        asker.keep("public-reasons", question.title, "most frequent", None, why_hidden(asker.others))
        return None
    names = sorted(REASONS[row.reason] for row in named)
    return f"{question.title}: {'; '.join(names)}."


def _tells(asker: Asker, cohort: Cohort, named: list[str]) -> bool:
    """
    Whether the list tells a unit a small count of others: no reason that is not named is more frequent than one that
    is, and where few are named, the others are all small.
    """
    least = asker.others.withhold_counts_under
    for kind in KINDS:
        known = asker.desk.unit_revisions(kind, cohort, ())
        every, places = known.all[:, 0], [known.reasons.index(one) for one in named]
        most = int(every[places].min()) if len(named) == MOST else least - 1
        rest = [place for place, one in enumerate(known.reasons) if one in REASONS and one not in named]
        owns = [np.zeros(len(every), dtype=np.int64), *(known.counts[known.codes.index(u), :, 0] for u in known.units)]
        for own in owns:
            if any(0 < every[n] - own[n] < least and most - own[n] - 1 < asker.edition.protection_width for n in rest):
                return True
    return False
