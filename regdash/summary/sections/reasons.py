"""Why joints are revised: incidence first, death competing; shares second."""

from regdash.cohort import Cohort
from regdash.figures.intervals import BARS, Interval, interval_figure
from regdash.output.wording import with_limits
from regdash.reports.model import ReasonRow, ReasonsReport
from regdash.summary import sentences
from regdash.summary.asker import Asker
from regdash.summary.document import Block, Bullets, Figure, Paragraph, Section
from regdash.summary.edition import Question
from regdash.summary.sections.done_tables import reasons_by_time, work_at_first_revisions
from regdash.summary.sections.names import PLURALS, slug
from regdash.summary.tables import reasons_table

MOST_REASONS = 10


def section(asker: Asker) -> Section:
    """Ask for the reasons of the edition."""
    intro = Paragraph(
        "A reason is what the surgeon recorded as leading, not a proven cause. Incidences compare groups at the same "
        "time since the primary; shares shift with follow-up and stand second."
    )
    parts = []
    for question in asker.edition.questions["reasons"]:
        parts += [_part(asker, question, joint, cohort) for joint, cohort in asker.asked(question)]
    parts += [_at_first_revisions(asker, joint) for joint in asker.edition.joints if _are_revised(asker, joint)]
    return Section("reasons", "Reasons for revision", (intro,), tuple(parts))


def _are_revised(asker: Asker, joint: str) -> bool:
    return any(row.revised != 0 for row in asker.whole(asker.cohort(f"joint={joint}", "reasons")).rows)


def _at_first_revisions(asker: Asker, joint: str) -> Section:
    """Say when first revisions were done for what, and what was done at them."""
    said = Paragraph(
        "By how long after the primary they came, and by what was done. A share says what revisions were for, and not "
        "how likely one is: that is the incidence above."
    )
    tables = (reasons_by_time(asker, joint), work_at_first_revisions(asker, joint))
    return Section(slug("first-revisions", joint), f"{PLURALS[joint]}: first revisions", (said, *tables))


def _part(asker: Asker, question: Question, joint: str, cohort: Cohort) -> Section:
    title = question.title if question.filter else f"{PLURALS[joint]}: {question.title}"
    name = slug("reasons", "" if question.filter else joint, question.title)
    if not asker.holds(cohort):
        return Section(name, title, (Paragraph("No joint of this data cut is in the cohort."),))
    times = question.years or (asker.edition.reason_years,)
    blocks = [block for years in times for block in _at(asker, question, cohort, name, title, years)]
    return Section(name, title, tuple(blocks))


def _at(asker: Asker, question: Question, cohort: Cohort, name: str, title: str, years: float) -> list[Block]:
    """Ask by one time: sentences, figure, table."""
    report = asker.desk.reasons(cohort, asker.grouping(question.by, title), years)
    arguments = ["reasons", *cohort.words, "--years", f"{years:g}", *(["--by", question.by] if question.by else [])]
    come_from = asker.provenance(report.head, arguments)
    table = reasons_table(slug(name, f"{years:g}"), f"{title}, by {sentences.at_years(years)}", report, come_from)
    said = _sentences(report, asker.period(cohort))
    blocks: list[Block] = [Bullets(tuple(said))] if said else []
    blocks += [reasons_figure(report, table.name, table.title)] if question.figure and report.rows else []
    return [*blocks, table]


def _sentences(report: ReasonsReport, period: str) -> list[str]:
    said = []
    for group in report.groups:
        rows = [row for row in report.rows if row.group == group.label and row.incidence is not None and row.revisions]
        if rows:
            most = max(rows, key=lambda row: row.incidence or 0.0)
            said.append(sentences.incidence_sentence(most, period))
    return [one for one in said if one]


def reasons_figure(report: ReasonsReport, table: str, title: str) -> Figure:
    """Draw the incidence of the most frequent reasons, group beside group."""
    groups = [group.label for group in report.groups]
    highest: dict[str, float] = {}
    for row in report.rows:
        highest[row.reason] = max(highest.get(row.reason, 0.0), row.incidence or 0.0)
    reasons = sorted(highest, key=lambda reason: (-highest[reason], reason))[:MOST_REASONS]
    at = {(row.reason, row.group): row for row in report.rows}
    pairs = [(reason, group) for reason in reasons for group in groups if (reason, group) in at]
    rows = [_interval(at[pair], groups.index(pair[1])) for pair in pairs]
    axis = f"revised for the reason by {report.years:g} years, %"
    told = "; ".join(f"{one.label}, {groups[one.series]}: {one.written}" for one in rows[: 3 * len(groups)])
    alt = f"Bars of the incidence of each reason by {report.years:g} years, in per cent, with limits. {told}."
    fewer = (f"The {len(reasons)} reasons with the highest incidence.",) if len(highest) > len(reasons) else ()
    return Figure(f"figure-{table}", title, alt, interval_figure(rows, groups, axis, BARS, 100), table, fewer)


def _interval(row: ReasonRow, series: int) -> Interval:
    (written,) = with_limits([(row.incidence, row.lower, row.upper)], 1, 100)
    return Interval(
        row.reason, series, row.incidence, row.lower, row.upper, "withheld" if row.withheld else written.strip()
    )
