"""How many of 100 people need a second operation, in words and pictures, for everybody."""

from collections.abc import Sequence

from regdash.cohort import Cohort
from regdash.figures.hundred import MOST, hundred_figure
from regdash.output.table import Column
from regdash.reports.model import PATIENT_VIEW, RiskRow
from regdash.reports.unit_profile import KINDS
from regdash.summary.asker import Asker
from regdash.summary.disclosure import why_hidden
from regdash.summary.document import Block, Bullets, Figure, Paragraph, Provenance, Section, Table
from regdash.summary.edition import Question
from regdash.summary.plain import in_100, of_100, years_on
from regdash.summary.sections.names import slug
from regdash.summary.tables import plain_record
from regdash.summary.told_in_100 import InHundred, told

OWN_YEARS = (1.0, 3.0, 5.0, 10.0)  # at which editions of hospitals and surgeons tell risks of all others, as shipped
TOO_FEW = "There are too few of these joints to tell."


def section(asker: Asker) -> Section:
    """Tell every risk of the edition."""
    intro = Paragraph(
        "A new joint can need a second operation. Here is how often this happens. The number is of 100 people like all "
        "those on our list. Some of them die of other things first. They are counted as people who did not need it."
    )
    parts = [
        _part(asker, question, joint, cohort)
        for question in asker.edition.questions["risk"]
        for joint, cohort in asker.asked(question)
    ]
    return Section("public-risk", "How often a second operation is needed", (intro,), tuple(parts))


def least_joints(asker: Asker) -> int:
    """
    Say how many joints a group has at the least whose risk everybody is told.

    A whole number of 100 is right to one in a hundred of the joints: with fewer it would tell the number revised more
    closely than the protection width.
    """
    return max(asker.edition.least_joints, 100 * asker.edition.protection_width)


def _part(asker: Asker, question: Question, joint: str, cohort: Cohort) -> Section:
    name = slug("risk", question.title)
    report = asker.desk.risk(cohort, (), asker.edition.years, PATIENT_VIEW)
    joints = report.head.joints or 0
    few = joints < least_joints(asker)
    kept = set() if few else _kept(asker, name, cohort, report.rows)
    shown = [row for row in report.rows if row.years in kept]
    for row in report.rows:
        if row not in shown:
            why = f"fewer than {least_joints(asker):,} joints" if few else row.withheld or why_hidden(asker.others)
            asker.keep(name, question.title, years_on(row.years), row.revisions, why)
    if not shown:
        return Section(name, question.title, (Paragraph(TOO_FEW),))
    numbers = [(row.years, in_100(row.estimate or 0.0)) for row in shown]
    said = [
        f"By {years_on(years)} after the first operation, {of_100(number)} in 100 had a second one."
        for years, number in numbers
    ]
    why = why_hidden(asker.others)
    by_year = dict(numbers)
    rows = [(year, by_year.get(year), None if year in by_year else why) for year in asker.edition.years]
    record = plain_record("second operations in 100", ("years", "in_100", "withheld"), rows)
    columns = (
        Column("after", [years_on(year) for year, _ in numbers], left=True),
        Column("of 100 people", [of_100(number) for _, number in numbers], left=True),
    )
    of = f"{question.title}: joints replaced up to {asker.cut.through_date}, for any reason."
    title = f"{question.title}: people of 100 with a second operation"
    table = Table(name, title, columns, record, Provenance("risk", str(cohort), of))
    alt = f"Squares of 100 people. {' '.join(said)}"
    picture = hundred_figure([(years_on(year), number) for year, number in numbers[-MOST:]])
    figure = Figure(f"figure-{name}", title, alt, picture, name, ("Full squares: people with a second operation.",))
    blocks: list[Block] = [Bullets(tuple(said)), figure, table]
    return Section(name, question.title, tuple(blocks))


def _kept(asker: Asker, name: str, cohort: Cohort, rows: Sequence[RiskRow]) -> set[float]:
    """Find the times of which everybody is told, whatever a hospital or surgeon knows of its own and of all others."""
    at = {row.years: row for row in rows}
    times = sorted({*at, *OWN_YEARS})
    before = asker.before.risks.get(name, {}) if asker.before else {}
    kept = {row.years for row in rows if _is_told(asker, row)}
    for kind in KINDS:
        known = asker.desk.unit_revisions(kind, cohort, times)
        counts = known.counts.sum(axis=1)[:, :-1]
        numbers = [
            InHundred(revised, at[time].estimate if time in at else None, before.get(time))
            for time, revised in zip(times, counts.sum(axis=0).tolist())
        ]
        units = [known.codes.index(code) for code in known.units]
        limits = asker.others.withhold_counts_under, asker.edition.protection_width
        kept &= {time for time, is_kept in zip(times, told(numbers, counts[units], *limits)) if is_kept}
    return kept


def _is_told(asker: Asker, row: RiskRow) -> bool:
    """Whether a risk is told: it has a figure, and few are behind it neither at risk nor revised."""
    if row.estimate is None or row.at_risk is None or row.revisions is None:
        return False
    return asker.others.why_small(row.at_risk, row.revisions) is None
