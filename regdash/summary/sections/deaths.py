"""Deaths: mortality after the primary operation, then how many joints' follow-up ended in death."""

from collections.abc import Sequence

from regdash import grouping
from regdash.output.mortality_pages import denominators
from regdash.output.wording import cohort_in_words
from regdash.reports.mortality import DEFAULT_DAYS
from regdash.reports.mortality_model import MortalityReport
from regdash.summary.asker import Asker
from regdash.summary.document import Block, Paragraph, Provenance, Section, Table
from regdash.summary.mortality_table import mortality_table
from regdash.summary.sections.names import PLURALS, slug
from regdash.summary.tables import describe_table

SHOWN = ("group", "joints", "patients", "age", "years", "died", "lost")
FRACTURES = {
    "knee": "acute-fracture",
    "hip": "acute-fracture,femoral-neck-fracture",
    "shoulder": "acute-fracture,proximal-humeral-fracture",
}
OTHERS = "all other diagnoses"
DAYS = ",".join(map(str, DEFAULT_DAYS))


def section(asker: Asker) -> Section:
    """Give mortality by class and for a fracture, and count deaths by class and age."""
    through = asker.cut.complete_through.get("deaths")
    intro = Paragraph(
        "Mortality is of operations: what a patient had done on one day counts once, and follow-up goes on past "
        "revisions. It says who is operated on, not what an implant does: age, illness and emergencies differ. "
        f"{f'Deaths are complete through {through}.' if through else 'Without a feed of deaths it cannot be told.'}"
    )
    counts = Paragraph(
        "Counts by class and age are of joints whose follow-up ended in the patient's death before any revision, so a "
        "patient with two joints counts twice. They are over follow-up of unequal length, not risks of death: older "
        "patients and longer follow-up have more of them."
    )
    parts = []
    for joint in asker.edition.joints:
        blocks: list[Block] = [*(_mortality(asker, joint) if through else ()), *_counts(asker, joint)]
        if blocks:
            parts.append(Section(f"deaths-{joint}", PLURALS[joint], tuple(blocks)))
    return Section("deaths", "Deaths", (intro, counts), tuple(parts))


def _mortality(asker: Asker, joint: str) -> list[Table]:
    """Mortality by class; then for a fracture beside all other diagnoses, where enough had one."""
    cohort = asker.cohort(f"joint={joint}", "deaths")
    report = asker.desk.mortality(cohort, grouping.parse("class"))
    if not report.rows:
        return []
    command = ("mortality", *cohort.words, "--by", "class", "--days", DAYS)
    title = f"{PLURALS[joint]}: mortality by class"
    tables = [mortality_table(slug("mortality", joint), title, report, _come_from(asker, report, command))]
    word = FRACTURES[joint]
    fracture, rest = (asker.cohort(f"joint={joint} diagnosis{sign}{word}", "deaths") for sign in ("=", "!="))
    if not (asker.holds(fracture) and asker.holds(rest)):
        return tables
    report = asker.desk.mortality(fracture, beside=rest)
    if all(row.withheld for row in report.rows if row.group == report.groups[0].label):
        return tables
    command = ("mortality", *fracture.words, "--beside", str(rest), "--days", DAYS)
    named = " or ".join(map(str, fracture.conditions[-1].values))
    title = f"{PLURALS[joint]}: mortality after a fracture, and after all other operations"
    name = slug("mortality", joint, "fracture")
    labels = dict(zip([group.label for group in report.groups], (named, OTHERS), strict=True))
    return [*tables, mortality_table(name, title, report, _come_from(asker, report, command), labels)]


def _come_from(asker: Asker, report: MortalityReport, command: Sequence[str]) -> Provenance:
    """Say of which operations figures are, and which command gives them."""
    head, own = report.head, asker.noted(report.head)
    beside = "" if head.beside is None else f", beside {cohort_in_words(head.beside)}"
    of = f"{cohort_in_words(head.cohort)}{beside}: {denominators(head, 'operations ')}."
    return Provenance(head.measure, str(head.cohort), of, asker.command(*command), own)


def _counts(asker: Asker, joint: str) -> list[Table]:
    cohort = asker.cohort(f"joint={joint}", "deaths")
    report = asker.desk.describe(cohort, grouping.parse("class,age"))
    if not report.rows:
        return []
    title = f"{PLURALS[joint]}: deaths by class and age at the primary"
    come_from = asker.provenance(report.head, ("describe", *cohort.words, "--by", "class,age"))
    return [describe_table(slug("deaths", joint), title, report, come_from, SHOWN)]
