"""A unit's risk of revision over time and its reasons, beside all others of the class."""

from dataclasses import replace

from regdash.summary.asker import years_text
from regdash.summary.document import Block, Paragraph, Section, Warned
from regdash.summary.sections.implants import rows_record_of
from regdash.summary.sections.reasons import reasons_figure
from regdash.summary.sections.risk import risk_figure
from regdash.summary.tables import rates_table, reasons_table, risk_table, rows_record
from regdash.summary.unit_asker import UnitAsker, implant_of

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
    come_from = asker.provenance(report.head, ("implant", code, *asker.within.words))
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
    risks = asker.desk.risk(own, (), edition.years, beside=within)
    come_from = asker.provenance(risks.head, ("risk", *words, "--years", years_text(edition.years)))
    risk = risk_table("risk", f"{asker.unit.code}: risk beside its class", risks, come_from)
    reasons = asker.desk.reasons(own, (), edition.reason_years, beside=within)
    come_from = asker.provenance(reasons.head, ("reasons", *words, "--years", f"{edition.reason_years:g}"))
    why = reasons_table("reasons", f"{asker.unit.code}: reasons beside its class", reasons, come_from)
    figures = (
        risk_figure(risks, risk.name, risk.title, edition.horizon),
        reasons_figure(reasons, why.name, why.title),
    )
    return [Paragraph(PIECE), figures[0], risk, figures[1], why]
