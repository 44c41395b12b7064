"""Risk of revision: the questions of the edition, by joint, with curves and joints at risk."""

from regdash.cohort import Cohort
from regdash.figures.step import step_figure
from regdash.figures.style import SERIES
from regdash.output.wording import percent
from regdash.reports.model import RiskReport
from regdash.summary import sentences
from regdash.summary.asker import Asker, years_text
from regdash.summary.document import Block, Bullets, Figure, Paragraph, Section
from regdash.summary.edition import Question
from regdash.summary.sections.names import PLURALS, slug
from regdash.summary.tables import risk_table

ALL = "all"  # the group of a question without groups
SAID_AT = 10.0  # years of the sentences, or the latest time before


def section(asker: Asker) -> Section:
    """Ask for every risk of the edition."""
    parts: dict[str, list[Section]] = {joint: [] for joint in asker.edition.joints}
    for question in asker.edition.questions["risk"]:
        for joint, cohort in asker.asked(question):
            parts.setdefault(joint, []).append(_part(asker, question, joint, cohort))
    intro = Paragraph(
        "Risk by t years is of implants of that era: newer ones have been followed for less long. Curves and "
        "figures end "
        f"where fewer than {asker.desk.policy.minimum_at_risk} joints are at risk. That a joint is not revised "
        "does not "
        "show that it is well: pain, function and revisions that were refused are not seen here."
    )
    found = [Section(f"risk-{joint}", PLURALS[joint], (), tuple(own)) for joint, own in parts.items() if own]
    return Section("risk", "Risk of revision", (intro,), tuple(found))


def _part(asker: Asker, question: Question, joint: str, cohort: Cohort) -> Section:
    name = slug("risk", "" if question.filter else joint, question.title)
    title = question.title if question.filter else f"{PLURALS[joint]} {question.title[:1].lower()}{question.title[1:]}"
    if not asker.holds(cohort):
        return Section(name, title, (Paragraph("No joint of this data cut is in the cohort."),))
    by = asker.grouping(question.by, question.title)
    report = asker.desk.risk(cohort, by, asker.edition.years, question.view)
    arguments = ["risk", *cohort.words, "--years", years_text(asker.edition.years), "--view", question.view]
    arguments += ["--by", question.by] if question.by else []
    come_from = asker.provenance(report.head, arguments)
    table = risk_table(name, title, report, come_from, asker.edition.rows_on_paper)
    blocks: list[Block] = []
    said = _sentences(report, asker.period(cohort))
    blocks += [Bullets(tuple(said))] if said else []
    if question.figure:
        blocks += [risk_figure(report, table.name, table.title, asker.edition.horizon)]
    return Section(name, title, (*blocks, table))


def _sentences(report: RiskReport, period: str) -> list[str]:
    """Say the risk of each group at ten years, or at the latest time before that has a figure."""
    if len(report.groups) > SERIES:
        return []
    followed = {curve.group: dict(curve.at_risk).get(0.0) for curve in report.curves}
    said = []
    for group in report.groups:
        rows = [row for row in report.rows if row.group == group.label and row.years <= SAID_AT]
        rows = [row for row in rows if row.estimate is not None]
        if rows:
            row = max(rows, key=lambda row: row.years)
            who = "all these joints" if group.label == ALL else f"the group {group.label}"
            said.append(sentences.risk_sentence(who, row, report.head, followed.get(group.label), period))
    return [sentence for sentence in said if sentence]


def risk_figure(report: RiskReport, table: str, title: str, horizon: float) -> Figure:
    """Draw the curves of an answer, and tell them in words."""
    drawn = [curve for curve in report.curves if len(curve.days)][:SERIES]
    left_out = [curve.group for curve in report.curves if curve not in drawn]
    told = []
    for curve in drawn:
        rows = [row for row in report.rows if row.group == curve.group and row.estimate is not None]
        figures = ", ".join(f"{percent(row.estimate)} % by {row.years:g}" for row in rows)
        told.append(f"{curve.group}: {figures} years" if figures else f"{curve.group}: a short curve")
    alt = f"Step curves of the proportion revised against years since the primary, with limits. {'; '.join(told)}."
    remarks = (f"No curve: {sentences.several(left_out)}.",) if left_out else ()
    shade = "Shaded: pointwise limits. Numbers under the axis: joints at risk."
    return Figure(f"figure-{table}", title, alt, step_figure(drawn, horizon), table, (shade, *remarks))
