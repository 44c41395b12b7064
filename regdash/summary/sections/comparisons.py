"""The quarter's comparisons: hazard ratios among joints that are alike, and the difference in risk reason by reason."""

from dataclasses import replace

from regdash.cohort import Cohort
from regdash.errors import FilterError, ModelError
from regdash.figures.intervals import MARKS, RATIOS, Interval, interval_figure
from regdash.output.wording import percent, window, with_limits
from regdash.reports.compared_tests import PROPORTIONALITY, p_of
from regdash.reports.model import CompareReport, GapReport
from regdash.summary import sentences
from regdash.summary.asker import Asker, years_text
from regdash.summary.document import Block, Bullets, Figure, Paragraph, Section
from regdash.summary.edition import Question
from regdash.summary.sections.names import PLURALS, slug
from regdash.summary.tables import compare_table, gap_table, tests_table

SMALL_P = 0.05


def section(asker: Asker) -> Section:
    """Ask for the comparisons of the edition."""
    intro = Paragraph(
        "These comparisons were stated in the edition's file before the figures were seen. Groups were not chosen by "
        "chance: patients, surgeons, hospitals and years differ between them in more than is adjusted for."
    )
    parts = []
    for question in asker.edition.questions["comparisons"]:
        parts += [_part(asker, question, joint, cohort) for joint, cohort in asker.asked(question)]
    return Section("comparisons", "Comparisons of the quarter", (intro,), tuple(parts))


def _part(asker: Asker, question: Question, joint: str, cohort: Cohort) -> Section:
    title = question.title if question.filter else f"{PLURALS[joint]}: {question.title}"
    name = slug("compare", "" if question.filter else joint, question.title)
    if not asker.holds(cohort):
        return Section(name, title, (Paragraph("No joint of this data cut is in the cohort."),))
    blocks = [*_ratios(asker, question, cohort, name, title), *_gap(asker, question, cohort, name, title)]
    return Section(name, title, tuple(blocks))


def _ratios(asker: Asker, question: Question, cohort: Cohort, name: str, title: str) -> list[Block]:
    by, adjust = asker.grouping(question.by, title), asker.grouping(question.adjust, title)
    try:
        report = asker.desk.compare(cohort, by, adjust, question.windows, question.reference)
    except (ModelError, FilterError) as refusal:
        return [Paragraph(f"No hazard ratio can be given: {refusal}")]
    arguments = ["compare", *cohort.words, "--by", question.by, "--adjust", question.adjust or "none"]
    arguments += ["--windows", years_text(question.windows)] if question.windows else []
    arguments += ["--reference", question.reference] if question.reference else []
    come_from = asker.provenance(report.head, arguments)
    said = [*sentences.ratio_sentences(report, asker.period(cohort)), *_lasting(report)]
    table = compare_table(f"{name}-ratios", f"{title}: hazard ratios", report, come_from)
    tests = tests_table(f"{name}-tests", f"{title}: tests", report, replace(come_from, cautions=()))
    blocks: list[Block] = [Bullets(tuple(said))] if said else []
    return [*blocks, ratios_figure(report, table.name, table.title), table, tests]


def _lasting(report: CompareReport) -> list[str]:
    """Say whether the ratio is shown to change with time."""
    p = p_of(list(report.tests), PROPORTIONALITY)
    if p is None:
        return []
    if p < SMALL_P:
        return ["The test of proportionality shows that the ratio changes with time: read it window by window."]
    return ["The test of proportionality shows no change of the ratio with time, which is no proof that there is none."]


def ratios_figure(report: CompareReport, table: str, title: str) -> Figure:
    """Draw hazard ratios over all of follow-up and in each window."""
    rows = []
    for row in report.rows:
        (written,) = with_limits([(row.hazard_ratio, row.lower, row.upper)], 2)
        label = f"{row.group}, {window(row.from_years, row.to_years)}"
        shown = "withheld" if row.withheld else written.strip()
        rows.append(Interval(label, 0, row.hazard_ratio, row.lower, row.upper, shown))
    told = "; ".join(f"{row.label}: {row.written}" for row in rows)
    alt = f"Hazard ratios against {report.reference} with limits, on a logarithmic axis with a line at 1. {told}."
    picture = interval_figure(rows, ("ratio",), f"hazard ratio against {report.reference}", RATIOS)
    return Figure(f"figure-{table}", title, alt, picture, table, ("Right of the line: revised at a higher rate.",))


def _gap(asker: Asker, question: Question, cohort: Cohort, name: str, title: str) -> list[Block]:
    if question.gap_years is None:
        return []
    by = asker.grouping(question.by, title)
    try:
        report = asker.desk.gap(cohort, by, question.gap_years, reference=question.reference)
    except FilterError as refusal:
        return [Paragraph(f"The difference is not split into reasons: {refusal}")]
    arguments = ["gap", *cohort.words, "--by", question.by, "--years", f"{question.gap_years:g}"]
    arguments += ["--reference", question.reference] if question.reference else []
    come_from = asker.provenance(report.head, arguments)
    said = sentences.gap_sentences(report, asker.period(cohort))
    table = gap_table(f"{name}-gap", f"{title}: the difference in risk, by reason", report, come_from)
    blocks: list[Block] = [Bullets(tuple(said))] if said else []
    return [*blocks, *gap_figure(report, table.name, table.title), table]


def gap_figure(report: GapReport, table: str, title: str) -> list[Figure]:
    """Draw what each reason adds to a difference; nothing where the difference is withheld."""
    if not any(row.difference is not None for row in report.rows):
        return []
    rows = []
    for row in report.rows:
        (written,) = with_limits([(row.difference, row.lower, row.upper)], 2, 100)
        shown = "withheld" if row.difference is None else written.strip()
        rows.append(Interval(row.reason, 0, row.difference, row.lower, row.upper, shown))
    one, other = (group.label for group in report.groups)
    whole = report.rows[-1]
    alt = (
        f"The difference in risk of {one} less {other} by {report.years:g} years, a line a reason, with limits; in all "
        f"{percent(whole.difference)} percentage points."
    )
    picture = interval_figure(rows, ("difference",), f"{one} less {other}, percentage points", MARKS, 100)
    return [Figure(f"figure-{table}", title, alt, picture, table)]
