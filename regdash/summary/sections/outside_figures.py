"""A unit's figures and risks for who is not of the office: its own beside its class, and no count of others."""

from collections.abc import Sequence
from dataclasses import replace

from regdash.figures.intervals import MARKS, Interval, interval_figure
from regdash.output.record import record_of_rows
from regdash.output.sheets import Withheld, implant_columns
from regdash.output.signal_sheets import screen_columns
from regdash.output.table import Column
from regdash.output.wording import with_limits
from regdash.reports.model import ImplantRow, RiskReport, RiskRow
from regdash.signals.model import ScreenRow
from regdash.summary import sentences
from regdash.summary.disclosure import risks_of_others
from regdash.summary.document import Block, Figure, Paragraph, Section, Table, Warned
from regdash.summary.sections.implants import SIGNAL
from regdash.summary.sections.outside_rows import as_read, bare, brief, hidden_parts, without
from regdash.summary.sections.unit_curves import PIECE, beside_class
from regdash.summary.sections.unit_screening import CRUDE, READING
from regdash.summary.tables import risk_cells, since
from regdash.summary.unit_asker import UnitAsker

NAMED = ("code", "role", "joint_class", "window", "signal")
DIGITS = {
    "implant_years": 0,
    "expected": 1,
    **dict.fromkeys(("per_100_implant_years", "rate_ratio", "hazard_ratio", "lower", "upper"), 2),
    **dict.fromkeys(("shrunk_hazard_ratio", "probability"), 2),
}
RATE_DIGITS = {
    "implant_years": 0,
    "expected": 1,
    **dict.fromkeys(("per_100_implant_years", "lower", "upper", "rate_ratio", "ratio_lower", "ratio_upper"), 2),
}
NOT_OF_RATE = ("class", "hospitals", "surgeons", "first used", "last used")
LEFT_OUT = ("role", "class", "above, %")


def screening(asker: UnitAsker) -> Section:
    """Tell what the screen found of it."""
    unit, notes = asker.unit, Withheld()
    rows = told_windows(asker)
    columns = [c for c in screen_columns(rows, unit.kind, asker.level, notes) if c.heading not in LEFT_OUT]
    columns = [replace(column, rank=0) for column in columns]
    report, cut = asker.signals.screen, asker.cut
    of = f"Primaries with {unit.code} beside all others of its class and role, followed to {cut.through_date}."
    come_from = asker.uncounted(report.head, report.head.cohort, of)
    record = record_of_rows(report.head.measure, ScreenRow, rows)
    title = f"{unit.code}: figures of the screen of {unit.kind}"
    table = Table("screening", title, tuple(columns), record, come_from, tuple(notes.notes))
    rate = [_rate(asker)] if asker.is_whole and asker.page.row.role == unit.role else []
    return Section("screening", "What the screen found", (Warned(SIGNAL), Paragraph(READING), table, *rate))


def _rate(asker: UnitAsker) -> Table:
    """Give the ratio of its rate to that of all others with exact limits, and nothing of who used it and when."""
    report, notes = asker.page, Withheld()
    row = as_read(asker, without(report.row, "hospitals", "surgeons", "first_used", "last_used"), RATE_DIGITS)
    row = replace(row, p=brief(row.p))
    columns = [c for c in implant_columns([row], asker.level, notes) if c.heading not in NOT_OF_RATE]
    columns = [replace(column, rank=0) for column in columns]
    of = f"Primaries with {row.code} beside all others of its class, followed to {asker.cut.through_date}."
    come_from = asker.uncounted(report.head, report.head.cohort, of)
    record = record_of_rows(report.head.measure, ImplantRow, [row])
    title = f"{row.code}: its rate beside that of all others of the class"
    return Table("rate", title, tuple(columns), record, come_from, tuple(notes.notes), (CRUDE,))


def told_windows(asker: UnitAsker) -> list[ScreenRow]:
    """Keep of the windows those whose revisions, and those of the others beside them, tell no small count."""
    rows = [row.screened for row in asker.rows]
    first, windows = rows[0], rows[1:]
    hidden = hidden_parts(asker, [row.revisions for row in windows], first.revisions)
    told = [_short(asker, first)]
    if hidden is None:
        return told
    for row, goes in zip(windows, hidden, strict=True):
        if goes:
            asker.keep("screening", row.code, f"{row.window}: revisions", row.revisions, "a part of a told total")
            told.append(bare(asker, row, NAMED))
        else:
            told.append(_short(asker, without(row, "joints", "implant_years")))
    return told


def _short(asker: UnitAsker, row: ScreenRow) -> ScreenRow:
    short = as_read(asker, row, DIGITS)
    return replace(short, rate_p=brief(row.rate_p), p=brief(row.p), q=brief(row.q))


def curves(asker: UnitAsker) -> Section:
    """Tell its risk at a few times, beside its class: a curve's steps are counts."""
    unit = asker.unit
    report = asker.page.risk if asker.is_whole else beside_class(asker)[1]
    own = report.groups[0].label
    rows = [_unless_beside(asker, row) if row.group == own else row for row in report.rows]
    beside = "all others of its class" if asker.is_whole else "its class"
    table = _risk(asker, replace(report, rows=tuple(rows)), f"{unit.code}: risk beside {beside}")
    said: list[Block] = [] if asker.is_whole else [Paragraph(PIECE)]
    return Section("curves", "Risk", (*said, _figure(report, table), table))


def _unless_beside(asker: UnitAsker, row: RiskRow) -> RiskRow:
    """Hide a risk that a count which is told, of a window's end or of all, lies few revisions beside."""
    if row.revisions is None:
        return row
    few = [asker.others.count(abs(told - row.revisions)) is None for told in _told_counts(asker)]
    return replace(row, revisions=None) if any(few) else row


def _told_counts(asker: UnitAsker) -> list[int]:
    """Revisions up to the end of each window, and of all of follow-up."""
    whole, *windows = (row.screened.revisions for row in asker.rows)
    upto, told = 0, [] if whole is None else [whole]
    for revisions in windows:
        if revisions is None:
            break
        upto += revisions
        told.append(upto)
    return told


def _risk(asker: UnitAsker, report: RiskReport, title: str) -> Table:
    """Give risks without their counts, group by group, as far as they tell no small one."""
    groups = [group.label for group in report.groups]
    kept = {g: risks_of_others(asker.others, [row for row in report.rows if row.group == g]) for g in groups}
    notes = Withheld()
    columns = [Column("time", [since(year) for year in report.years], left=True)]
    columns += [
        Column(f"{group}, %", notes.mark(risk_cells(rows), [row.withheld for row in rows]), left=True)
        for group, rows in kept.items()
    ]
    record = record_of_rows(report.head.measure, RiskRow, [row for of in kept.values() for row in of])
    come_from = asker.uncounted(report.head, report.head.cohort, f"Primaries followed to {asker.cut.through_date}.")
    level = f"With {sentences.limits(report.head)}."
    return Table("risk", title, tuple(columns), record, come_from, tuple(notes.notes), (level,))


def _figure(report: RiskReport, table: Table) -> Figure:
    groups = [group.label for group in report.groups]
    rows = [_interval(row, groups) for years in report.years for row in _at(table, years, groups)]
    told = "; ".join(f"{row.label}, {groups[row.series]}: {row.written} %" for row in rows)
    alt = f"Risk of revision with limits, in per cent, at each time. {told}."
    picture = interval_figure(rows, groups, "revised, %", MARKS, 100)
    return Figure(f"figure-{table.name}", table.title, alt, picture, table.name)


def _at(table: Table, years: float, groups: Sequence[str]) -> list[dict[str, object]]:
    rows = {row["group"]: row for row in table.record.rows if row["years"] == years}
    return [rows[group] for group in groups if group in rows]


def _interval(row: dict[str, object], groups: Sequence[str]) -> Interval:
    estimate, lower, upper = (
        value if isinstance(value, float) else None for value in (row["estimate"], row["lower"], row["upper"])
    )
    (written,) = with_limits([(estimate, lower, upper)], 1, 100)
    years = row["years"]
    assert isinstance(years, float)
    label, series = since(years), groups.index(str(row["group"]))
    return Interval(label, series, estimate, lower, upper, "withheld" if estimate is None else written.strip())
