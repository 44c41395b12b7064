"""One maker's own implants against all others of their class; no hospital and no surgeon is named or can be told."""

from dataclasses import fields, replace
from typing import Any

from regdash.cohort import Cohort
from regdash.output.record import record_of_rows
from regdash.output.sheets import Withheld, implant_columns
from regdash.reports.model import ImplantRow
from regdash.reports.own_joints import OwnJoints
from regdash.reports.unit_profile import HOSPITALS
from regdash.summary.asker import Asker
from regdash.summary.disclosure import why_hidden
from regdash.summary.document import Block, Paragraph, Section, Table, Warned
from regdash.summary.sections.implants import SIGNAL
from regdash.summary.sections.names import PLURALS, slug
from regdash.summary.sections.own_implant_page import own_page
from regdash.summary.tables import shortened
from regdash.summary.told_apart import Chosen, Limits, choose, few_users

FEW_HOSPITALS = "used at too few hospitals, or nearly all at one: its figures would be those of a hospital"
FEW_SURGEONS = "used by too few surgeons, or nearly all by one: its figures would be those of a surgeon"
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
    own = asker.desk.own_joints(cohort, asker.recipient.code)
    codes = {code for used in own.implants for _, code in used}
    if not codes:
        return None
    chosen = {one: choose(own, one, _limits(asker)) for one in dict.fromkeys(own.classes.tolist())}
    report, name = asker.desk.implants(cohort), slug("own-implants", joint)
    rows = [told(asker, row, own, chosen[row.joint_class]) for row in report.rows if row.code in codes]
    rows.sort(key=lambda row: (row.code, row.role, row.joint_class))
    notes, title = Withheld(), f"{PLURALS[joint]}: own implants"
    for row in rows:
        if row.joints is None:
            lines = own.of((row.role, row.code)) & (own.classes == row.joint_class)
            asker.keep(name, f"{row.code}, {row.joint_class}", row.role, own.number(lines), row.withheld or "")
    columns = [c for c in implant_columns(rows, asker.level, notes) if c.heading in SHOWN or "(" in c.heading]
    record = record_of_rows(report.head.measure, ImplantRow, rows)
    of = f"Primaries of the data cut with an own implant, followed to {asker.cut.through_date}; of use the years alone."
    come_from = asker.uncounted(report.head, cohort, of)
    said = ("Ratio: over all others of the class, not adjusted for patients, surgeons or hospitals.",)
    table = Table(name, title, tuple(columns), record, come_from, tuple(notes.notes), said)
    pages = [row for row in rows if row.joints is not None and _has_page(own, chosen, row)]
    found = (own_page(asker, row.code, joint, cohort, own) for row in pages[: asker.edition.pages])
    return Section(
        f"own-implants-{joint}",
        PLURALS[joint],
        (shortened(table, asker.edition.rows_on_paper, "in the order of their codes"),),
        tuple(page for page in found if page),
    )


def _limits(asker: Asker) -> Limits:
    edition = asker.edition
    times = tuple(sorted({*edition.years, edition.reason_years}))
    return Limits(asker.others.withhold_counts_under, edition.protection_width, edition.least_hospitals, times)


def _has_page(own: OwnJoints, chosen: dict[str, Chosen], row: ImplantRow) -> bool:
    """Whether an implant has a page: in the class where most joints hold it, and where it has one role alone."""
    number = {one: own.number(own.of((row.role, row.code)) & (own.classes == one)) for one in chosen}
    roles = {role for used in own.implants for role, code in used if code == row.code}
    is_main = row.joint_class == max(number, key=lambda one: number[one])
    return len(roles) == 1 and is_main and (row.role, row.code) in chosen[row.joint_class].paged


def told(asker: Asker, row: ImplantRow, own: OwnJoints, chosen: Chosen) -> ImplantRow:
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
    lines = own.of((row.role, row.code)) & (own.classes == row.joint_class)
    hospitals, surgeons = (few_users(each, _limits(asker)) for each in own.users(lines))
    if hospitals or surgeons:
        return replace(row, **hidden, withheld=FEW_HOSPITALS if hospitals else FEW_SURGEONS)
    if (row.role, row.code) not in chosen.told:
        return replace(row, **hidden, withheld=why_hidden(asker.others))
    return bare


def few_hospitals(asker: Asker, cohort: Cohort) -> bool:
    """Whether one hospital would know nearly all other joints by taking its own away, or could be told apart."""
    units = asker.desk.joints_by_unit(HOSPITALS, cohort, ())
    return few_users(sorted((sum(own.values()) for own in units.values()), reverse=True), _limits(asker))
