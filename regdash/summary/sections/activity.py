"""Activity: primaries and revisions of the quarter, by class and year, and what the quarter's patients were like."""

from collections.abc import Callable

from regdash import grouping
from regdash.cohort import Cohort
from regdash.errors import NothingDoneError
from regdash.figures.columns import column_figure
from regdash.output.table import Column
from regdash.output.wording import count, percent
from regdash.reports.model import DescribeReport
from regdash.summary.asker import Asker
from regdash.summary.document import Block, Figure, Paragraph, Provenance, Section, Table
from regdash.summary.sections.done_tables import QUARTERS, YEARS, operations_by_quarter, operations_by_year
from regdash.summary.sections.intake import linked_table
from regdash.summary.sections.names import PLURALS, slug
from regdash.summary.tables import describe_table, plain_record

MIX = ("age", "sex", "asa", "diagnosis", "fixation", "bearing", "technology")
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
    return Section("activity", "Activity", tuple(_by_year(asker)), (*_joints(asker), all_joints))


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
            found.append(Section(f"activity-{joint}", PLURALS[joint], (said, *_done(asker, joint))))
            continue
        come_from = asker.provenance(report.head, ("describe", *words.split(), "--by", "class"))
        title = f"{PLURALS[joint]}: primaries of {asker.quarter} by class"
        table = describe_table(slug("primaries", joint), title, report, come_from, QUARTER)
        before = _beside(asker, joint, report)
        found.append(
            Section(
                f"activity-{joint}", PLURALS[joint], (before, *_done(asker, joint), table, _mix(asker, joint, cohort))
            )
        )
    return found


def _done(asker: Asker, joint: str) -> list[Block]:
    """Count what was done by when it was done, where anything was."""
    if not asker.holds(asker.cohort(f"joint={joint}", "activity")):
        return []
    asked = ((operations_by_year, f"{YEARS} years"), (operations_by_quarter, f"{QUARTERS} quarters"))
    return [_latest(asker, joint, table, period) for table, period in asked]


def _latest(asker: Asker, joint: str, table: Callable[[Asker, str], Table], period: str) -> Block:
    try:
        return table(asker, joint)
    except NothingDoneError:
        return Paragraph(f"Nothing was done in the last {period}.")


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
