"""Hospitals and surgeons: counts, and risk with limits. In the order of their codes, never of their figures."""

from collections.abc import Sequence

import regdash.output.units_pages  # noqa: F401  makes profiles known to `record_of`
from regdash.cohort import Cohort
from regdash.figures.intervals import MARKS, Interval, interval_figure
from regdash.output.record import record_of
from regdash.output.sheets import LABEL, Withheld, limits_heading
from regdash.output.table import Column
from regdash.output.wording import NONE, count, percent, with_limits
from regdash.reports.model import RiskReport
from regdash.reports.unit_profile import HOSPITALS, ProfilesReport, UnitProfile
from regdash.summary import sentences
from regdash.summary.asker import Asker
from regdash.summary.document import Block, Figure, Paragraph, Section, Table, Warned
from regdash.summary.edition import Question
from regdash.summary.sections.names import PLURALS, slug
from regdash.summary.tables import ON_PAPER

CAUTION = (
    "Units stand in the order of their codes: these figures are no ranking, and no finding about a hospital or "
    "a person. "
    "They are not adjusted for patients, implants or years. Of many units some have limits that leave out the "
    "register's "
    "figure by chance alone."
)


def section(asker: Asker) -> Section:
    """Ask for the units of the edition."""
    parts = [
        _part(asker, question, joint, cohort)
        for question in asker.edition.questions["units"]
        for joint, cohort in asker.asked(question)
        if asker.holds(cohort)
    ]
    return Section("units", "Hospitals and surgeons", (Warned(CAUTION),), tuple(parts))


def _part(asker: Asker, question: Question, joint: str, cohort: Cohort) -> Section:
    title = f"{PLURALS[joint]}: {question.title.lower()}"
    years = question.years[0] if question.years else 5.0
    report = asker.desk.profiles(question.kind, cohort, years)
    arguments = ("units", question.kind, *cohort.words, "--years", f"{years:g}")
    shown = shown_units(report.rows, asker.edition.rows_on_paper)
    notes = Withheld()
    columns = profile_columns(report, shown, asker.level, notes)
    said = [f"Risk by {sentences.at_years(years)}. Last 365 days: primaries in them, up to the through-date."]
    if len(shown) < len(report.rows):
        which = "those with the most joints, in the order of their codes"
        said.append(ON_PAPER.format(all=len(report.rows), shown=len(shown), which=which))
    name = slug("units", joint, question.kind)
    come_from = asker.provenance(report.head, arguments)
    table = Table(name, title, columns, record_of(report), come_from, tuple(notes.notes), tuple(said))
    whole = asker.desk.risk(cohort, (), (years,))
    blocks: list[Block] = [_beside(asker, report, whole, cohort)]
    blocks += [profile_figure(shown, whole.rows[0].estimate, years, table)] if question.figure else []
    return Section(name, title, (*blocks, table))


def shown_units(rows: Sequence[UnitProfile], most: int) -> list[UnitProfile]:
    """Keep the units with the most joints, and the order of their codes."""
    largest = sorted(range(len(rows)), key=lambda place: (-(rows[place].joints or 0), place))[:most]
    return [rows[place] for place in sorted(largest)]


def profile_columns(
    report: ProfilesReport, rows: Sequence[UnitProfile], level: float, notes: Withheld
) -> tuple[Column, ...]:
    """Show what each unit does and how its primaries last."""
    risks = with_limits([(row.estimate, row.lower, row.upper) for row in rows], 1, 100)
    columns = [
        Column(report.kind.removesuffix("s"), [row.group for row in rows], left=True, least=LABEL),
        Column("joints", [count(row.joints) for row in rows]),
        Column("patients", [count(row.patients) for row in rows], rank=4),
        Column("revised", [count(row.revisions) for row in rows]),
        Column("at risk", [count(row.at_risk) for row in rows], rank=1),
        Column(limits_heading("risk, %", level), notes.mark(risks, [row.withheld for row in rows]), left=True),
        Column("last 365 days", [count(row.joints_last_365_days) for row in rows], rank=2),
        Column("first", [row.first_date or NONE for row in rows], left=True, rank=6),
        Column("last", [row.last_date or NONE for row in rows], left=True, rank=5),
    ]
    if report.kind == HOSPITALS:
        columns.append(Column("complete, %", [percent(row.completeness) for row in rows], rank=3))
    return tuple(columns)


def _beside(asker: Asker, report: ProfilesReport, whole: RiskReport, cohort: Cohort) -> Paragraph:
    """Say the register's own figure, and how many units have one."""
    said = [
        sentence
        for row in whole.rows
        if (
            sentence := sentences.risk_sentence(
                "all these joints", row, whole.head, whole.head.joints, asker.period(cohort)
            )
        )
    ]
    shown = sum(row.estimate is not None for row in report.rows)
    return Paragraph(
        f"{shown:,} of {len(report.rows):,} {report.kind} have enough joints for a figure. {' '.join(said)}".rstrip()
    )


def profile_figure(shown: Sequence[UnitProfile], whole: float | None, years: float, table: Table) -> Figure:
    """Draw the risk of the units that the table shows on paper, with a line at that of all joints together."""
    rows = []
    for row in shown:
        (written,) = with_limits([(row.estimate, row.lower, row.upper)], 1, 100)
        told = "withheld" if row.withheld else written.strip()
        rows.append(Interval(row.group, 0, row.estimate, row.lower, row.upper, told))
    figures = [row.estimate for row in rows if row.estimate is not None]
    between = f"from {percent(min(figures))} to {percent(max(figures))} %" if figures else "none given"
    alt = (
        f"Risk by {sentences.at_years(years)} of {len(rows)} units with limits, in the order of their codes; estimates "
        f"{between}; all together {percent(whole)} %."
    )
    picture = interval_figure(rows, ("risk",), f"revised by {sentences.at_years(years)}, %", MARKS, 100, whole)
    line = ("Dashed line: all joints together.",) if whole is not None else ()
    return Figure(f"figure-{table.name}", table.title, alt, picture, table.name, line)
