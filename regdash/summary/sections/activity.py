"""Activity: primaries and revisions of the quarter, by class and year, and what the quarter's patients were like."""

from regdash import grouping
from regdash.cohort import Cohort
from regdash.figures.columns import column_figure
from regdash.output.sheets import once
from regdash.output.table import Column
from regdash.output.wording import count, percent
from regdash.reports.model import DescribeReport
from regdash.summary.asker import Asker
from regdash.summary.document import Block, Figure, Paragraph, Provenance, Section, Table
from regdash.summary.sections.intake import linked_table
from regdash.summary.sections.names import PLURALS, slug
from regdash.summary.tables import describe_table, plain_record

MIX = ("age", "sex", "asa", "diagnosis", "fixation", "bearing", "technology")
QUARTERS = 8
LEAST_SHOWN = 0.005  # share of what is named on paper
QUARTER = ("group", "joints", "patients", "age", "female, %", "hospitals", "surgeons")


def section(asker: Asker) -> Section:
    """Say what was done."""
    revisions = asker.desk.linked(asker.cohort(f"implanted={asker.quarter}", "activity"), ("joint",))
    all_joints = Section(
        "activity-revisions",
        "Revisions done in the quarter",
        (
            Paragraph(
                "All revisions that were done in the quarter, whoever did the primary: not the same as the revisions "
                "by which risks are counted, which are first revisions of primaries in the register."
            ),
            linked_table(asker, revisions, "revisions-of-the-quarter", f"Revisions done in {asker.quarter}"),
        ),
    )
    return Section("activity", "Activity", (*_by_year(asker), _by_quarter(asker)), (*_joints(asker), all_joints))


def _by_year(asker: Asker) -> list[Block]:
    """Show primaries by year for each joint."""
    panels, told = [], []
    for joint in asker.edition.joints:
        report = asker.desk.describe(Cohort().having(f"joint={joint}"), grouping.parse("implanted"))
        asker.noted(report.head)
        if report.rows:
            panels.append((PLURALS[joint], [(row.group, row.joints) for row in report.rows]))
            told += [(joint, row.group, row.joints, row.withheld) for row in report.rows]
    if not told:
        return [Paragraph("There are no primaries in this data cut.")]
    years = sorted({year for _, year, _, _ in told})
    cells = {(joint, year): joints for joint, year, joints, _ in told}
    joints = [joint for joint in asker.edition.joints if any(joint == each for each, *_ in told)]
    columns = [Column("year", years, left=True)]
    columns += [
        Column(PLURALS[joint].lower(), [count(cells.get((joint, year), 0)) for year in years]) for joint in joints
    ]
    record = plain_record("primaries by year", ("joint", "year", "joints"), [row[:3] for row in told])
    of = f"Primaries of the data cut, {years[0]} to {asker.cut.through_date}; the last year may not be whole."
    come_from = Provenance("description", "", of, asker.command("describe", "--by", "joint,implanted"))
    table = Table("primaries-by-year", "Primaries by year", tuple(columns), record, come_from)
    alt = "; ".join(_told(name, counts) for name, counts in panels)
    return [
        Figure("figure-primaries-by-year", "Primaries by year", f"{alt}.", column_figure(panels), table.name),
        table,
    ]


def _by_quarter(asker: Asker) -> Table:
    """Count primaries and revisions of the latest quarters, joint by joint."""
    quarters = [asker.quarter]
    while len(quarters) < QUARTERS:
        quarters.append(quarters[-1].before)
    rows: list[tuple[str, str, int | None, int | None]] = []
    for quarter in reversed(quarters):
        cohort = asker.cohort(f"implanted={quarter}", "activity")
        primaries = {row.group: row.joints for row in asker.desk.describe(cohort, grouping.parse("joint")).rows}
        revisions = {row.group: row.revisions for row in asker.desk.linked(cohort, ("joint",)).rows}
        rows += [(str(quarter), j, primaries.get(j, 0), revisions.get(j, 0)) for j in asker.edition.joints]
    columns = (
        Column("quarter", once([quarter for quarter, *_ in rows]), left=True),
        Column("joint", [joint for _, joint, *_ in rows], left=True),
        Column("primaries", [count(primaries) for _, _, primaries, _ in rows]),
        Column("revisions", [count(revisions) for *_, revisions in rows]),
    )
    record = plain_record("operations by quarter", ("quarter", "joint", "primaries", "revisions"), rows)
    of = "Operations of the data cut; revisions are all that were done, whoever did the primary. The latest will grow."
    title = f"Operations of the last {QUARTERS} quarters"
    return Table("operations-by-quarter", title, columns, record, Provenance("operations", "", of))


def _told(name: str, counts: list[tuple[str, int | None]]) -> str:
    (first, one), (last, other) = counts[0], counts[-1]
    return f"{name}: {count(one)} in {first}, {count(other)} in {last}"


def _joints(asker: Asker) -> list[Section]:
    found = []
    for joint in asker.edition.joints:
        words = f"joint={joint} implanted={asker.quarter}"
        cohort = asker.cohort(words, "activity")
        report = asker.desk.describe(cohort, grouping.parse("class"))
        if not report.rows:
            said = Paragraph(f"No primary of {asker.quarter} is in this data cut.")
            found.append(Section(f"activity-{joint}", PLURALS[joint], (said,)))
            continue
        come_from = asker.provenance(report.head, ("describe", *words.split(), "--by", "class"))
        title = f"{PLURALS[joint]}: primaries of {asker.quarter} by class"
        table = describe_table(slug("primaries", joint), title, report, come_from, QUARTER)
        before = _beside(asker, joint, report)
        found.append(Section(f"activity-{joint}", PLURALS[joint], (before, table, _mix(asker, joint, cohort))))
    return found


def _beside(asker: Asker, joint: str, report: DescribeReport) -> Paragraph:
    """Set the quarter beside the same quarter of the year before."""
    then = asker.quarter.a_year_before
    rows = asker.desk.describe(asker.cohort(f"joint={joint} implanted={then}", "activity")).rows
    before = rows[0].joints if rows else 0
    few = f"fewer than {asker.desk.policy.withhold_counts_under:,}"
    return Paragraph(
        f"{_said(report.head.joints, few)} primaries in {asker.quarter} ({_said(report.head.patients, few)} patients); "
        f"{_said(before, few)} in {then}."
    )


def _said(number: int | None, few: str) -> str:
    return few if number is None else count(number)


def _mix(asker: Asker, joint: str, cohort: Cohort) -> Table:
    """Count the quarter's primaries by each of several characteristics."""
    rows: list[tuple[str, str, int | None, float | None]] = []
    for key in MIX:
        report = asker.desk.describe(cohort, grouping.parse(key))
        total = report.head.joints
        rows += [
            (key, row.group, row.joints, row.joints / total if row.joints is not None and total else None)
            for row in report.rows
        ]
    shown = [row for row in rows if row[3] is None or row[3] >= LEAST_SHOWN]
    columns = (
        Column("field", [key for key, *_ in shown], left=True),
        Column("value", [value for _, value, *_ in shown], left=True),
        Column("joints", [count(joints) for _, _, joints, _ in shown]),
        Column("share, %", [percent(share) for *_, share in shown]),
    )
    record = plain_record("characteristics", ("field", "value", "joints", "share"), rows)
    words = tuple(cohort.words)
    come_from = Provenance(
        "description",
        str(cohort),
        f"Primaries of {asker.quarter}: {count(asker.whole(cohort).head.joints)} joints; shares are of all of them.",
        asker.command("describe", *words, "--by", "FIELD"),
    )
    least = f"Values with {100 * LEAST_SHOWN:g} % or more are shown; the workbook and the CSV file have all."
    title = f"{PLURALS[joint]}: characteristics of the primaries of {asker.quarter}"
    return Table(slug("characteristics", joint), title, columns, record, come_from, (), (least,))
