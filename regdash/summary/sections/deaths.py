"""Deaths: how many of the patients' joints had their follow-up end in death, by class and age. Counts alone."""

from regdash import grouping
from regdash.summary.asker import Asker
from regdash.summary.document import Paragraph, Section
from regdash.summary.sections.names import PLURALS, slug
from regdash.summary.tables import describe_table

SHOWN = ("group", "joints", "patients", "age", "years", "died", "lost")


def section(asker: Asker) -> Section:
    """Count deaths by class and age."""
    through = asker.cut.complete_through.get("deaths") or asker.cut.through_date
    intro = Paragraph(
        "Joints whose follow-up ended in the patient's death before any revision, deaths known through "
        f"{through}. A patient "
        "with two joints counts twice. These are counts over follow-up of unequal length, not risks of death: older "
        "patients and longer follow-up have more of them."
    )
    parts = []
    for joint in asker.edition.joints:
        cohort = asker.cohort(f"joint={joint}", "deaths")
        report = asker.desk.describe(cohort, grouping.parse("class,age"))
        if not report.rows:
            continue
        title = f"{PLURALS[joint]}: deaths by class and age at the primary"
        come_from = asker.provenance(report.head, ("describe", *cohort.words, "--by", "class,age"))
        table = describe_table(slug("deaths", joint), title, report, come_from, SHOWN)
        parts.append(Section(f"deaths-{joint}", PLURALS[joint], (table,)))
    return Section("deaths", "Deaths", (intro,), tuple(parts))
