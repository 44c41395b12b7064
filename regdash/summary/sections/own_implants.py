"""One maker's own implants against all others of their class; no hospital and no surgeon is named or can be told."""

from dataclasses import fields, replace
from typing import Any

from regdash.cohort import Cohort
from regdash.output.record import record_of_rows
from regdash.output.sheets import Withheld, implant_columns
from regdash.output.table import Column
from regdash.reports.model import ImplantRow, ReasonRow, ReasonsReport, RiskReport, RiskRow
from regdash.reports.unit_profile import HOSPITALS
from regdash.summary import sentences
from regdash.summary.asker import Asker
from regdash.summary.disclosure import reasons_kept, risks_of_others, why_hidden
from regdash.summary.document import Block, Paragraph, Section, Table, Warned
from regdash.summary.sections.implants import SIGNAL
from regdash.summary.sections.names import PLURALS, slug
from regdash.summary.sections.own_activity import own_words
from regdash.summary.tables import reasons_table, risk_cells, shortened, since

FEW_HOSPITALS = "used at too few hospitals, or nearly all at one: its figures would be those of a hospital"
SHOWN = ("implant", "role", "class", "joints", "revised", "expected", "p", "first used", "last used")
_NAMED = ("code", "role", "joint_class")


def section(asker: Asker) -> Section:
    """Ask for the own implants, joint by joint."""
    parts = [part for joint in asker.edition.joints if (part := _joint(asker, joint))]
    none: tuple[Block, ...] = () if parts else (Paragraph("No implant of this maker can be shown from this data cut."),)
    title = "Own implants, against all others of their class"
    return Section("own-implants", title, (Warned(SIGNAL), *none), tuple(parts))


def _joint(asker: Asker, joint: str) -> Section | None:
    cohort = asker.cohort(f"joint={joint}", "own-implants")
    codes = own_codes(asker, cohort)
    if not codes:
        return None
    report = asker.desk.implants(cohort)
    rows = [told(asker, row, cohort) for row in report.rows if row.code in codes]
    rows.sort(key=lambda row: (row.code, row.role, row.joint_class))
    notes, title = Withheld(), f"{PLURALS[joint]}: own implants"
    for row in rows:
        if row.joints is None:
            asker.keep(slug("own-implants", joint), row.code, row.role, None, row.withheld or "")
    columns = [c for c in implant_columns(rows, asker.level, notes) if c.heading in SHOWN or "(" in c.heading]
    record = record_of_rows(report.head.measure, ImplantRow, rows)
    of = f"Primaries of the data cut with an own implant, followed to {asker.cut.through_date}; of use the years alone."
    come_from = asker.uncounted(report.head, cohort, of)
    said = ("Ratio: over all others of the class, not adjusted for patients, surgeons or hospitals.",)
    table = Table(slug("own-implants", joint), title, tuple(columns), record, come_from, tuple(notes.notes), said)
    pages = list(dict.fromkeys(row.code for row in rows if row.joints is not None and row.revisions is not None))
    found = tuple(_page(asker, code, joint, cohort) for code in pages[: asker.edition.pages])
    return Section(
        f"own-implants-{joint}",
        PLURALS[joint],
        (shortened(table, asker.edition.rows_on_paper, "in the order of their codes"),),
        found,
    )


def own_codes(asker: Asker, cohort: Cohort) -> set[str]:
    """Find the maker's own implants among those put in together with one; the ones in few joints are left out."""
    beside = asker.desk.values("implant", cohort.having(own_words(asker)))
    return {code for code in beside if asker.holds(cohort.having(own_words(asker), f"implant={code}"))}


def told(asker: Asker, row: ImplantRow, cohort: Cohort) -> ImplantRow:
    """Keep of an implant what a maker may see: no number of users, and no day on which one was operated on."""
    bare = replace(
        row,
        hospitals=None,
        surgeons=None,
        first_used=row.first_used and row.first_used[:4],
        last_used=row.last_used and row.last_used[:4],
    )
    hidden: dict[str, Any] = {f.name: None for f in fields(ImplantRow) if f.name not in (*_NAMED, "withheld")}
    if row.joints is None or row.revisions is None:
        return replace(row, **hidden, withheld=why_hidden(asker.others))
    if few_hospitals(asker, cohort.having(f"implant={row.code}", f"role={row.role.replace(' ', '-')}")):
        return replace(row, **hidden, withheld=FEW_HOSPITALS)
    return bare


def few_hospitals(asker: Asker, cohort: Cohort) -> bool:
    """Whether one hospital would know nearly all other joints by taking its own away, or could be told apart."""
    units = asker.desk.joints_by_unit(HOSPITALS, cohort, ())
    joints = sorted((sum(own.values()) for own in units.values()), reverse=True)
    return len(joints) < asker.edition.least_hospitals or sum(joints[1:]) < asker.others.withhold_counts_under


def _page(asker: Asker, code: str, joint: str, cohort: Cohort) -> Section:
    """Tell one implant's risk beside all others of its class, and why it was revised."""
    report = asker.desk.implant(code, cohort, asker.edition.years, asker.edition.reason_years)
    name = slug("own-implant", joint, code)
    blocks: list[Block] = [
        risk_without_counts(asker, report.risk, f"{name}-risk", code),
        _reasons(asker, report.reasons, name, code),
    ]
    return Section(name, f"Implant {code}", tuple(blocks))


def risk_without_counts(asker: Asker, report: RiskReport, name: str, code: str) -> Table:
    """Give risks of an own implant and all others, as far as they tell no small count."""
    groups = [group.label for group in report.groups]
    kept = {g: risks_of_others(asker.others, [row for row in report.rows if row.group == g]) for g in groups}
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


def _reasons(asker: Asker, report: ReasonsReport, name: str, code: str) -> Table:
    kept = reasons_kept(asker.others, asker.edition.protection_width, report.rows, report.head.revisions)
    bare = replace(report, rows=tuple(replace(row, at_risk=None, share=None) for row in kept))
    come_from = asker.uncounted(report.head, report.head.cohort, f"Primaries followed to {asker.cut.through_date}.")
    table = reasons_table(f"{name}-reasons", f"{code}: reasons", bare, come_from)
    return replace(table, record=record_of_rows(report.head.measure, ReasonRow, bare.rows))
