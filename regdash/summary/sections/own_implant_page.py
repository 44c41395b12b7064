"""One own implant of a maker beside all others of its class: risk by time, and reasons; both are told, or neither."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from regdash.cohort import Cohort
from regdash.output.record import record_of_rows
from regdash.output.sheets import Withheld
from regdash.output.table import Column
from regdash.reports.model import ImplantReport, ReasonRow, ReasonsReport, RiskReport, RiskRow
from regdash.reports.own_joints import OwnJoints
from regdash.summary import sentences
from regdash.summary.asker import Asker
from regdash.summary.disclosure import reasons_beside_others, rounded, why_hidden
from regdash.summary.document import Block, Paragraph, Section, Table
from regdash.summary.sections.names import slug
from regdash.summary.tables import reasons_table, risk_cells, since
from regdash.summary.told_times import told_times

NO_REASONS = "Reasons cannot be told without telling a small count."


def own_page(asker: Asker, code: str, joint: str, cohort: Cohort, own: OwnJoints) -> Section | None:
    """Tell one implant's risk and reasons beside all others of its class; None where any of it would tell too much."""
    years, reason_years = asker.edition.years, asker.edition.reason_years
    report = asker.desk.implant(code, cohort, years, reason_years)
    within = own.classes == report.row.joint_class
    with_it = within & np.array([any(code == one for _, one in used) for used in own.implants])
    groups = (with_it, within & ~with_it)
    times = sorted({*years, reason_years})
    by_time = [[own.revised(lines, time) for time in times] + [own.revised(lines)] for lines in groups]
    can_be = [_has_figure(report, time) for time in times]
    limits = asker.others.withhold_counts_under, asker.edition.protection_width
    places = told_times(by_time[0], by_time[1], can_be, *limits)
    name = slug("own-implant", joint, code)
    if places is None:
        asker.keep(name, code, "all of its page", by_time[0][-1], why_hidden(asker.others))
        return None
    at = {times[place] for place in places}
    blocks = (
        _risk(asker, report.risk, f"{name}-risk", code, at),
        _reasons(asker, report.reasons, f"{name}-reasons", code, own, groups, reason_years in at),
    )
    for table in blocks:
        if isinstance(table, Table):
            for row in table.record.rows:
                if row.get("withheld") == why_hidden(asker.others):
                    asker.keep(table.name, row["group"], _at(row), _count(own, groups, code, row), row["withheld"])
    return Section(name, f"Implant {code}", blocks)


def _at(row: dict[str, object]) -> str:
    return str(row["reason"]) if "reason" in row else since(float(str(row["years"])))


def _count(own: OwnJoints, groups: Sequence[np.ndarray], code: str, row: dict[str, object]) -> int:
    lines = groups[0] if row["group"] == code else groups[1]
    return (
        own.revised(lines, None, str(row["reason"]))
        if "reason" in row
        else own.revised(lines, float(str(row["years"])))
    )


def _has_figure(report: ImplantReport, time: float) -> bool:
    """Whether the policy lets any figure of a time stand, of the implant or of all others."""
    risks = any(row.estimate is not None for row in report.risk.rows if row.years == time)
    return risks or any(row.incidence is not None for row in report.reasons.rows if row.years == time)


def _risk(asker: Asker, report: RiskReport, name: str, code: str, at: set[float]) -> Table:
    """Give risks at the times at which both groups are told."""
    why, groups = why_hidden(asker.others), [group.label for group in report.groups]
    kept = {g: [_told(row, why, row.years in at) for row in report.rows if row.group == g] for g in groups}
    notes, title = Withheld(), f"{code}: risk beside all others of its class"
    columns = [Column("time", [since(year) for year in report.years], left=True)]
    columns += [
        Column(f"{group}, %", notes.mark(risk_cells(rows), [row.withheld for row in rows]), left=True)
        for group, rows in kept.items()
    ]
    record = record_of_rows(report.head.measure, RiskRow, [row for of in kept.values() for row in of])
    come_from = asker.uncounted(report.head, report.head.cohort, f"Primaries followed to {asker.cut.through_date}.")
    level = f"With {sentences.limits(report.head)}."
    return Table(name, title, tuple(columns), record, come_from, tuple(notes.notes), (level,))


def _told(row: RiskRow, why: str, is_told: bool) -> RiskRow:
    """Give a risk as it is told, without its counts; what chance alone withholds keeps its reason."""
    if not is_told or row.revisions is None or row.at_risk is None:
        by_chance = row.withheld if row.revisions is not None and row.at_risk is not None else None
        return RiskRow(row.group, row.years, None, None, None, None, None, by_chance or why)
    figures = rounded(row.estimate), rounded(row.lower), rounded(row.upper)
    return RiskRow(row.group, row.years, None, None, *figures, row.withheld)


def _reasons(
    asker: Asker,
    reasons: ReasonsReport,
    name: str,
    code: str,
    own: OwnJoints,
    groups: tuple[np.ndarray, np.ndarray],
    in_time: bool,
) -> Block:
    """Give reasons of both groups; those of all follow-up and those by a time have each to be kept from telling."""
    why, limits = why_hidden(asker.others), (asker.others.withhold_counts_under, asker.edition.protection_width)
    names = list(dict.fromkeys(row.reason for row in reasons.rows))
    gone: dict[str, bool] = dict.fromkeys(names, False)
    for years in (None, reasons.years) if in_time else (None,):
        mine, others = ([own.revised(lines, years, one) for one in names] for lines in groups)
        hidden = reasons_beside_others(mine, others, *limits)
        if hidden is None:
            return Paragraph(NO_REASONS)
        gone = {one: gone[one] or goes for one, goes in zip(names, hidden)}
    kept = [_reason(row, why, gone[row.reason], in_time) for row in reasons.rows]
    last = sorted((row for row in kept if gone[row.reason]), key=lambda row: (row.group != code, row.reason))
    bare = replace(reasons, rows=(*(row for row in kept if not gone[row.reason]), *last))
    of = f"Primaries followed to {asker.cut.through_date}."
    come_from = asker.uncounted(reasons.head, reasons.head.cohort, of)
    table = reasons_table(name, f"{code}: reasons", bare, come_from)
    return replace(table, record=record_of_rows(reasons.head.measure, ReasonRow, bare.rows))


def _reason(row: ReasonRow, why: str, goes: bool, in_time: bool) -> ReasonRow:
    if goes or row.revisions is None:
        return ReasonRow(row.group, row.reason, row.years, None, None, None, None, None, None, why)
    figures = [rounded(figure) if in_time else None for figure in (row.incidence, row.lower, row.upper)]
    withheld = row.withheld if in_time else why
    return replace(
        row, at_risk=None, share=None, incidence=figures[0], lower=figures[1], upper=figures[2], withheld=withheld
    )
