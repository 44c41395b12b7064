"""Cautions: how the figures may mislead. Those of this document, then each that came with an answer, said once."""

from regdash.reports.wording import NOT_FOR_ONE_PATIENT
from regdash.summary.asker import Asker
from regdash.summary.document import Bullets, Paragraph, Section

OURS = (
    "A signal means more revisions than chance would make likely under the stated comparison. It opens a review and "
    "shows no cause; of many tests some are signals by chance.",
    "Groups were not chosen by chance. Patients, surgeons, hospitals and implants differ in ways that records "
    "hold only "
    "in part: partial replacements, for one, are offered to other patients and exchanged more readily.",
    "Early and late revisions have different reasons; one ratio over all of follow-up hides when they happen.",
    "Those who do few of an operation, or do it newly, may have other results than those who do many; an "
    "implant that is "
    "used by few surgeons or hospitals cannot be told apart from them.",
    "Newer implants and new users have short follow-up: what comes late has not had time to come.",
    "What stands out in one quarter tends to stand out less in the next, by chance alone.",
    "What is not recorded is rarely missing by chance: hospitals differ in what they leave out.",
    "Where an implant or unit is compared with all others, it is left out of them itself; withdrawn and confirmed "
    "implants are left out where the screen says so.",
    "A revision that is held back until its hospital answers counts nowhere, and lowers the risk that is shown.",
    "That a joint is not revised does not show a good result: pain, function and revisions that were refused or "
    "postponed are not seen here.",
    "No figure here advises one patient, judges one surgeon's fitness or recalls a device. Decisions rest with "
    "licensed "
    "practitioners, local governance and the competent authority.",
)


def section(asker: Asker) -> Section:
    """Write every caution once."""
    came = [caution for caution in asker.cautions if caution != NOT_FOR_ONE_PATIENT]
    said = Paragraph("These came with answers in this document; those with counts of one answer stand under its table.")
    return Section(
        "cautions",
        "Cautions",
        (Bullets(OURS),),
        (Section("cautions-of-answers", "With single answers", (said, Bullets(tuple(came)))),),
    )
