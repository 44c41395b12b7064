"""A unit's risk of revision over time and its reasons, beside all others of the class."""

from dataclasses import replace
from typing import TypeVar

from regdash.output.record import record_of
from regdash.output.wording import cohort_in_words, count
from regdash.reports.model import Head, ReasonsReport, RiskReport
from regdash.summary.asker import years_text
from regdash.summary.document import Block, Paragraph, Provenance, Section, Warned
from regdash.summary.sections.implants import rows_record_of
from regdash.summary.sections.reasons import reasons_figure
from regdash.summary.sections.risk import risk_figure
from regdash.summary.tables import rates_table, reasons_table, risk_table, rows_record
from regdash.summary.unit_asker import UnitAsker, implant_of

Beside = TypeVar("Beside", RiskReport, ReasonsReport)
OTHER_ROLE = "This is told of the role in which most joints hold it, {role}; the screen is of the role {own}."
PIECE = (
    "There is no filter for all others of a size or lot: it stands beside all joints of its class, itself among them."
)


def section(asker: UnitAsker) -> Section:
    """Draw and tell it."""
    return Section("curves", "Risk and reasons", tuple(_of_implant(asker) if asker.is_whole else _of_piece(asker)))


def other_role(asker: UnitAsker) -> list[Block]:
    """Say where an answer on an implant is of another role than the unit."""
    role = asker.page.row.role
    return [] if role == asker.unit.role else [Warned(OTHER_ROLE.format(role=role, own=asker.unit.role))]


def _of_implant(asker: UnitAsker) -> list[Block]:
    report, code = asker.page, implant_of(asker.unit)
    come_from = asker.provenance(report.head, asker.page_command)
    come_from = replace(come_from, cautions=())  # with the rate, in the section before
    asker.noted(report.risk.head)
    asker.noted(report.reasons.head)
    risk = risk_table("risk", f"{code}: risk beside all others of its class", report.risk, come_from)
    risk = replace(risk, record=rows_record_of(report, "risk", report.risk.rows))
    why = reasons_table("reasons", f"{code}: reasons beside all others of its class", report.reasons, come_from)
    why = replace(why, record=rows_record_of(report, "reasons", report.reasons.rows))
    title = f"{code}: revisions per 100 implant-years, by time since implantation"
    rates = rates_table("rates", title, report.windows, asker.level, rows_record(report, "windows"), come_from)
    figures = (
        risk_figure(report.risk, risk.name, risk.title, asker.edition.horizon),
        reasons_figure(report.reasons, why.name, why.title),
    )
    return [*other_role(asker), figures[0], risk, figures[1], why, rates]


def _of_piece(asker: UnitAsker) -> list[Block]:
    own, within, edition = asker.own, asker.within, asker.edition
    words = (*own.words, "--beside", str(within))
    risks, named = beside_class(asker)
    command = asker.command("risk", *words, "--years", years_text(edition.years))
    risk = risk_table("risk", f"{asker.unit.code}: risk beside its class", named, _of_both(asker, risks.head, command))
    reasons = asker.desk.reasons(own, (), edition.reason_years, beside=within)
    command = asker.command("reasons", *words, "--years", f"{edition.reason_years:g}")
    come_from = _of_both(asker, reasons.head, command)
    named_reasons = _named(asker, reasons)
    why = reasons_table("reasons", f"{asker.unit.code}: reasons beside its class", named_reasons, come_from)
    figures = (
        risk_figure(named, risk.name, risk.title, edition.horizon),
        reasons_figure(named_reasons, why.name, why.title),
    )
    risk, why = replace(risk, record=record_of(risks)), replace(why, record=record_of(reasons))
    return [Paragraph(PIECE), figures[0], risk, figures[1], why]


def beside_class(asker: UnitAsker) -> tuple[RiskReport, RiskReport]:
    """Ask for the risk of a size or lot beside its class; and the same with groups called as people call them."""
    report = asker.desk.risk(asker.own, (), asker.edition.years, beside=asker.within)
    named = _named(asker, report)
    names = dict(zip((group.label for group in report.groups), (group.label for group in named.groups), strict=True))
    curves = tuple(replace(curve, group=names[curve.group]) for curve in report.curves)
    return report, replace(named, curves=curves)


def _named(asker: UnitAsker, report: Beside) -> Beside:
    """Call the two groups by what they are, and not by filter words."""
    called = (asker.unit.code, f"all {asker.unit.joint_class} {asker.unit.joint}s")
    names = dict(zip((group.label for group in report.groups), called, strict=True))
    groups = tuple(replace(group, label=names[group.label]) for group in report.groups)
    rows = tuple(replace(row, group=names[row.group]) for row in report.rows)
    return replace(report, groups=groups, rows=rows)


def _of_both(asker: UnitAsker, head: Head, command: tuple[str, ...]) -> Provenance:
    own = asker.noted(head)
    of = (
        f"{cohort_in_words(asker.own)}, beside {cohort_in_words(asker.within)}: {count(head.joints)} joints in all, "
        f"followed to {asker.cut.through_date} at the latest; {count(head.revisions)} revised."
    )
    return Provenance(f"{head.measure}, {head.endpoint}", str(head.cohort), of, command, own)
