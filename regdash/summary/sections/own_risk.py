"""How one recipient's own primaries last, beside those of all others taken together."""

from collections.abc import Sequence
from dataclasses import replace

from regdash.cohort import Cohort
from regdash.errors import FilterError, SummaryError
from regdash.figures.intervals import MARKS, Interval, interval_figure
from regdash.output.record import record_of_rows
from regdash.output.sheets import Withheld
from regdash.output.table import Column
from regdash.output.wording import count, percent, with_limits
from regdash.reports.model import RiskReport, RiskRow
from regdash.summary import sentences
from regdash.summary.asker import Asker, years_text
from regdash.summary.disclosure import risks_of_others, why_hidden
from regdash.summary.document import Figure, Paragraph, Section, Table
from regdash.summary.edition import Question
from regdash.summary.sections.names import PLURALS, slug
from regdash.summary.tables import risk_cells, since

OWN, OTHERS = "own", "all others"


def section(asker: Asker) -> Section:
    """Ask for every risk of the edition, own beside all others."""
    intro = Paragraph(
        "Risks are of revision for any reason, as if nobody had died, and count revisions wherever they were done. "
        "Own limits are wide where joints are few: where they hold the figure of all others, no difference is shown. "
        "Own joints are left out of all others. No curve is drawn, since each of its steps is a patient."
    )
    parts = [
        _part(asker, question, joint, cohort)
        for question in asker.edition.questions["risk"]
        for joint, cohort in asker.asked(question)
    ]
    return Section("own-risk", "Risk of revision, beside all others", (intro,), tuple(parts))


def _part(asker: Asker, question: Question, joint: str, cohort: Cohort) -> Section:
    title = question.title if question.filter else f"{PLURALS[joint]}: {question.title.lower()}"
    name = slug("own-risk", "" if question.filter else joint, question.title)
    kind, code, years = f"{asker.recipient.kind}s", asker.recipient.code, asker.edition.years
    try:
        report = risk_beside_others(asker, question, cohort)
    except FilterError:
        return Section(name, title, (Paragraph("None of the own joints in this data cut is among these."),))
    if any(group.label not in (code, OTHERS) for group in report.groups):
        raise SummaryError(f"The edition's question {question.title} asks for several joints. Name one.")
    rows = [replace(row, group=OWN if row.group == code else OTHERS) for row in report.rows]
    own = [row for row in rows if row.group == OWN]
    rest = [row for row in rows if row.group == OTHERS]
    others = risks_of_others(asker.others, rest)
    for row, shown in zip(rest, others):
        if shown.withheld == why_hidden(asker.others):
            asker.keep(name, OTHERS, since(row.years), row.revisions, shown.withheld)
    arguments = ("units", kind, *cohort.words, "--code", code, "--years", years_text(years), "--view", question.view)
    come_from = asker.uncounted(report.head, cohort, f"{title}; followed to {asker.cut.through_date}.", arguments)
    notes = Withheld()
    columns = (
        Column("time", [since(row.years) for row in own], left=True),
        Column("own revised", [count(row.revisions) for row in own]),
        Column("own at risk", [count(row.at_risk) for row in own]),
        Column("own risk, %", notes.mark(risk_cells(own), [row.withheld for row in own]), left=True),
        Column("all others, %", notes.mark(risk_cells(others), [row.withheld for row in others]), left=True),
    )
    record = record_of_rows(report.head.measure, RiskRow, (*own, *others))
    level = f"With {sentences.limits(report.head)}."
    table = Table(name, f"{title}: risk of revision", columns, record, come_from, tuple(notes.notes), (level,))
    return Section(name, title, (own_figure(table, own, others), table))


def risk_beside_others(asker: Asker, question: Question, cohort: Cohort) -> RiskReport:
    """
    Ask for a risk, once in all sections.

    Raises:
        FilterError: none of the own joints is among these.
    """
    kind, code, key = f"{asker.recipient.kind}s", asker.recipient.code, f"{question.view} {cohort}"
    if key not in asker.risks_of_others:
        report = asker.desk.unit_risk(kind, code, cohort, asker.edition.years, question.view)
        asker.risks_of_others[key] = report
    return asker.risks_of_others[key]


def own_figure(table: Table, own: Sequence[RiskRow], others: Sequence[RiskRow]) -> Figure:
    """Draw own risks beside those of all others, time by time."""
    rows = []
    for pair in zip(own, others):
        for series, row in enumerate(pair):
            (written,) = with_limits([(row.estimate, row.lower, row.upper)], 1, 100)
            shown = "withheld" if row.withheld else written.strip()
            rows.append(Interval(since(row.years), series, row.estimate, row.lower, row.upper, shown))
    told = "; ".join(
        f"{since(one.years)}: own {percent(one.estimate)} %, all others {percent(other.estimate)} %"
        for one, other in zip(own, others)
    )
    alt = f"Own risk of revision and that of all others with limits. {told}."
    picture = interval_figure(rows, (OWN, OTHERS), "revised, %", MARKS, 100)
    return Figure(f"figure-{table.name}", table.title, alt, picture, table.name)
