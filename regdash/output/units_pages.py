"""Hospitals and surgeons as a page of text and in the form that programs get; importing it makes them known to both."""

from regdash.output.people import Lines, closing, level_of, opening, page, tabled, wrapped
from regdash.output.record import Record, columns_of, head_facts, record_of
from regdash.output.sheets import LABEL, Withheld, limits_heading
from regdash.output.table import Column
from regdash.output.wording import NONE, count, percent, with_limits, within
from regdash.reports.unit_profile import HOSPITALS, ProfilesReport, UnitProfile

WITHHELD = "withheld"


@record_of.register
def _(report: ProfilesReport) -> Record:
    names = columns_of(UnitProfile)
    rows = [{name: getattr(row, name) for name in names} for row in report.rows]
    for row in rows:
        if row[WITHHELD] is None:
            del row[WITHHELD]
    return Record({**head_facts(report.head), "units": report.kind}, names, rows)


@page.register
def _(report: ProfilesReport, width: int) -> Lines:
    notes, rows, level = Withheld(), report.rows, level_of(report.head)
    risks = with_limits([(row.estimate, row.lower, row.upper) for row in rows], 1, 100)
    rates = with_limits([(row.per_100_implant_years, row.rate_lower, row.rate_upper) for row in rows], 2)
    columns = [
        Column("unit", [row.group for row in rows], left=True, least=LABEL),
        Column("joints", [count(row.joints) for row in rows]),
        Column("revised", [count(row.revisions) for row in rows]),
        Column(limits_heading("risk, %", level), notes.mark(risks, [row.withheld for row in rows]), left=True),
        Column("last 365 days", [count(row.joints_last_365_days) for row in rows]),
        Column(
            limits_heading("per 100 years", level),
            notes.mark(rates, [row.rate_withheld for row in rows]),
            left=True,
            rank=3,
        ),
        Column("partial, %", [percent(row.partial_share) for row in rows], rank=1),
        Column("patients", [count(row.patients) for row in rows], rank=5),
        Column("first", [row.first_date or NONE for row in rows], left=True, rank=6),
        Column("last", [row.last_date or NONE for row in rows], left=True, rank=4),
    ]
    if report.kind == HOSPITALS:
        shares = [percent(row.completeness) + (" fault" if row.is_over else "") for row in rows]
        columns.append(Column("complete, %", shares, rank=2))
    said = f"Risk: {within(report.years)}. Last 365 days: primaries in them. Partial: of all knees of the unit."
    lines = [*opening(report.head, width), *tabled(columns, width), "", *wrapped(said, width)]
    return [*lines, *closing(report.head.method, report.head.cautions, width, notes)]
