"""Implants: what was used, what the screen found, and a page for each implant with a signal."""

from collections.abc import Sequence
from dataclasses import replace

from regdash.cohort import Cohort
from regdash.output import sheets, signal_sheets
from regdash.output.explained_pages import ExplainedPart
from regdash.output.explained_sheets import SECTIONS
from regdash.output.record import Record, columns_of, record_of
from regdash.output.sheets import Withheld
from regdash.output.signals_pages import listed_only, signal_columns
from regdash.output.wording import NONE, count, number, p_value, with_limits
from regdash.reports.model import ImplantReport, ImplantsReport
from regdash.signals.model import ALL, IMPLANTS, LOOK_CLOSER, ScreenReport, SignalsReport
from regdash.summary import sentences
from regdash.summary.asker import Asker
from regdash.summary.document import Block, Bullets, Facts, Paragraph, Provenance, Section, Table, Warned
from regdash.summary.sections.names import PLURALS, slug
from regdash.summary.sections.reasons import reasons_figure
from regdash.summary.sections.risk import risk_figure
from regdash.summary.tables import rates_table, reasons_table, risk_table, rows_record, shortened

USED = ("implant", "role", "class", "joints", "revised", "hospitals", "surgeons", "first used", "last used")
STRIKING = "the most striking first"
NOT_EXPLAINED = "Where these figures come from is told by: regdash implant {code}"
NOT_COMPARED = "There is no earlier data cut to compare with: which signals are new cannot be said."
SIGNAL = (
    "A signal means that revisions are more than a stated ratio would make likely, beside all other joints of "
    "the class "
    "and role. It starts a review; it shows no cause and is no verdict on an implant, a surgeon or a hospital."
)


def section(asker: Asker) -> Section:
    """Ask for implants, joint by joint."""
    parts = [_joint(asker, joint) for joint in asker.edition.joints]
    return Section("implants", "Implants", (Warned(SIGNAL),), tuple(parts))


def _joint(asker: Asker, joint: str) -> Section:
    cohort = asker.cohort(f"joint={joint}", "implants")
    title = PLURALS[joint]
    if not asker.holds(cohort):
        return Section(f"implants-{joint}", title, (Paragraph("No joint of this data cut is in the cohort."),))
    parts = [_screen(asker, kind, joint, cohort) for kind in asker.edition.screens]
    found = [page for _, pages in parts for page in pages]
    return Section(
        f"implants-{joint}", title, (), (_used(asker, joint, cohort), *(screened for screened, _ in parts), *found)
    )


def _used(asker: Asker, joint: str, cohort: Cohort) -> Section:
    """List implants by how much they were used."""
    report = asker.desk.implants(cohort)
    rows = sorted(report.rows, key=lambda row: (-(row.joints or 0), row.code, row.role, row.joint_class))
    ordered: ImplantsReport = replace(report, rows=tuple(rows))
    columns = sheets.implant_columns(ordered.rows, asker.level, Withheld())
    columns = [
        replace(column, rank=0 if column.heading != "surgeons" else 1) for column in columns if column.heading in USED
    ]
    come_from = asker.provenance(report.head, ("implants", *cohort.words))
    said = ("Counts alone are no comparison; the screen compares.",)
    name = slug("implants-used", joint)
    title = f"{PLURALS[joint]}: implants used"
    table = Table(name, title, tuple(columns), record_of(report), come_from, (), said)
    return Section(
        name, "Implants used", (shortened(table, asker.edition.rows_on_paper, "those with the most joints"),)
    )


def _screen(asker: Asker, kind: str, joint: str, cohort: Cohort) -> tuple[Section, list[Section]]:
    """Screen one kind of unit, and give its section and the pages of implants with a signal."""
    report = _signals(asker, kind, cohort)
    screen = report.screen
    come_from = asker.provenance(screen.head, asker.reviewed("screen", kind, *cohort.words))
    notes, rows = Withheld(), signal_sheets.shown_rows(screen)
    columns = [c for c in signal_sheets.screen_columns(rows, kind, asker.level, notes) if c.heading != "above, %"]
    remark = (
        "Years since implantation. Ratio: hazard ratio against all others of the class and role. q: of a ratio up to "
        f"{screen.settings.stated_ratio:g}, over all tests. Shrunk: drawn towards what is usual. Windows without a "
        "signal stand in the workbook and the CSV file."
    )
    name = slug("screen", kind, joint)
    title = f"{PLURALS[joint]}: screen of {kind}"
    table = Table(name, title, tuple(columns), record_of(screen), come_from, tuple(notes.notes), (remark,))
    codes = signalled(screen)
    pages, unpaged = _pages(asker, report, codes, cohort)
    found = [*_found(screen, codes, unpaged), *_seen(asker, report, joint, cohort)]
    facts = Facts(tuple(signal_sheets.screen_facts(screen)))
    blocks = (facts, *found, shortened(table, asker.edition.rows_on_paper, STRIKING))
    return Section(name, f"Screen of {kind}", blocks), pages


def _signals(asker: Asker, kind: str, cohort: Cohort) -> SignalsReport:
    since = asker.earlier.cut if asker.earlier else None
    return asker.desk.signals(kind, cohort, since=since, compared=since is not None, reviews_as_of=asker.reviews.as_of)


def _seen(asker: Asker, report: SignalsReport, joint: str, cohort: Cohort) -> list[Block]:
    """Say which signals are first seen, seen again and not seen, and what was decided on them."""
    listed = listed_only(report)
    if not listed.rows:
        return []
    notes = Withheld()
    columns = [c for c in signal_columns(listed.rows, report.kind, asker.level, notes) if c.heading != "by"]
    arguments = ["signals", "list", *cohort.words, "--kind", report.kind]
    arguments += ["--since", report.earlier] if report.earlier else []
    come_from = asker.provenance(report.head, asker.reviewed(*arguments))
    if report.earlier is None and _has_earlier(asker):
        come_from = replace(come_from, command=())  # the command would compare with a cut that this summary does not
    title = f"{PLURALS[joint]}: signals, what became of them, and whether they were seen before"
    name = slug("signals", report.kind, joint)
    table = Table(name, title, tuple(columns), record_of(listed), come_from, tuple(notes.notes))
    moved = [
        f"{row.unit.code} ({row.unit.role}), {row.screened.window}: {row.seen}, {row.moved.cause}. {row.moved.sentence}"
        for row in listed.rows
        if row.moved
    ]
    against = f"Compared with data cut {report.earlier}." if report.earlier else NOT_COMPARED
    most = asker.edition.rows_on_paper
    said: list[Block] = [Paragraph(against), *([Bullets(tuple(moved[:most]))] if moved else [])]
    return [*said, shortened(table, most, STRIKING)]


def _has_earlier(asker: Asker) -> bool:
    return any(cut.through_date < asker.cut.through_date for cut in asker.desk.cuts())


def signalled(report: ScreenReport) -> list[str]:
    """List what has a signal in any role or window, the most striking first."""
    return list(dict.fromkeys(row.code for row in report.rows if row.signal == LOOK_CLOSER))


def _found(report: ScreenReport, codes: Sequence[str], unpaged: Sequence[str]) -> list[Block]:
    if not codes:
        return [Paragraph(f"No signal among {report.tests:,} tests. That does not show that nothing is wrong.")]
    said = [
        f"{len(codes):,} of the {report.kind} {'has' if len(codes) == 1 else 'have'} a signal: "
        f"{sentences.several(codes)}."
    ]
    said += [sentence for code in codes if (sentence := signal_sentence(report, code))]
    said += [f"No page in this document, for want of room: {sentences.several(unpaged)}."] if unpaged else []
    return [Bullets(tuple(said))]


def signal_sentence(report: ScreenReport, code: str) -> str | None:
    """Say the figures of one signal, over all of follow-up or else in its most striking window."""
    rows = [row for row in report.rows if row.code == code and row.signal == LOOK_CLOSER]
    row = next((row for row in rows if row.window == ALL), rows[0])
    if row.hazard_ratio is None or row.expected is None:
        return None
    (ratio,) = with_limits([(row.hazard_ratio, row.lower, row.upper)], 2)
    window = "over all of follow-up" if row.window == ALL else f"{row.window} years since implantation"
    return (
        f"{code} ({row.role}, {row.joint_class}), {window}: {count(row.revisions)} revisions among "
        f"{count(row.joints)} joints, "
        f"{number(row.expected, 1)} expected at the rate of all others; hazard ratio {ratio.strip()} "
        f"({sentences.limits(report.head)}), q {p_value(row.q)}; followed to {report.head.cut.partition('.')[0]}."
    )


def _pages(
    asker: Asker, report: SignalsReport, codes: Sequence[str], cohort: Cohort
) -> tuple[list[Section], list[str]]:
    """Make a page for each implant with a signal, as many as the edition has room for."""
    if report.kind != IMPLANTS:
        return [], []
    most = asker.edition.pages
    pages = [
        implant_page(asker, code, cohort, report, place < asker.edition.explained_pages)
        for place, code in enumerate(codes[:most])
    ]
    return pages, list(codes[most:])


def implant_page(asker: Asker, code: str, cohort: Cohort, signals: SignalsReport, in_full: bool) -> Section:
    """Tell one implant beside all others of its class; in full, with where its figures come from."""
    report = asker.desk.implant(code, cohort)
    come_from = asker.provenance(report.head, asker.reviewed("implant", code, *cohort.words))
    come_from, alone = replace(come_from, cautions=()), come_from
    asker.noted(report.risk.head)
    asker.noted(report.reasons.head)
    joint, level = str(cohort.conditions[0].values[0]), asker.level
    name = slug("implant", joint, code)
    risk = risk_table(f"{name}-risk", f"{code}: risk beside all others of its class", report.risk, alone)
    risk = replace(risk, record=rows_record_of(report, "risk", report.risk.rows))
    why = reasons_table(f"{name}-reasons", f"{code}: reasons", report.reasons, come_from)
    why = replace(why, record=rows_record_of(report, "reasons", report.reasons.rows))
    windows = rates_table(
        f"{name}-windows",
        f"{code}: revisions per 100 implant-years, by time since implantation",
        report.windows,
        level,
        rows_record(report, "windows"),
        come_from,
    )
    users = rates_table(
        f"{name}-hospitals",
        f"{code}: by hospital",
        report.hospitals,
        level,
        rows_record(report, "hospitals"),
        come_from,
    )
    unexplained = [Paragraph(NOT_EXPLAINED.format(code=code))]
    blocks: list[Block] = [
        Facts((*_implant_facts(report), *_reviewed(signals, code))),
        risk_figure(report.risk, risk.name, risk.title, asker.edition.horizon),
        risk,
        reasons_figure(report.reasons, why.name, why.title),
        why,
        windows,
        *(_explained(asker, code, cohort, name, come_from) if in_full else unexplained),
        shortened(users, asker.edition.rows_on_paper, "in the order of the report"),
    ]
    return Section(name, f"Implant {code}", tuple(blocks))


def _explained(asker: Asker, code: str, cohort: Cohort, name: str, come_from: Provenance) -> list[Block]:
    """Give the parts of the explanation that the edition asks for; its own cautions stand under the first."""
    if not asker.edition.explained:
        return []
    explained = asker.desk.explained(code, cohort, reviews_as_of=asker.reviews.as_of)
    parts: list[Block] = []
    own = asker.noted(explained.head)
    for part in asker.edition.explained:
        section, notes = SECTIONS[part], Withheld()
        columns = section.columns(section.shown(explained), asker.level, notes)
        kept = tuple(replace(column, heading=column.heading or "kind") for column in columns)
        record = record_of(ExplainedPart(explained, part))
        title = f"{explained.code}: {section.title[:1].lower()}{section.title[1:]}"
        first = replace(come_from, cautions=own if not parts else ())
        table = Table(f"{name}-{part}", title, kept, record, first, tuple(notes.notes))
        parts.append(shortened(table, asker.edition.rows_on_paper, "the first"))
        if part == "falls" and explained.falls:
            parts.append(Bullets(tuple(row.finding for row in explained.falls)))
    return parts


def _reviewed(signals: SignalsReport, code: str) -> list[tuple[str, str]]:
    """Say what was decided, and whether the signal was seen before."""
    rows = [row for row in signals.rows if row.unit.code == code and row.is_listed]
    decided = list(dict.fromkeys(f"{row.state}: {row.review.why}" if row.review else row.state for row in rows))
    seen = list(dict.fromkeys(f"{row.screened.window}: {row.seen}" for row in rows if row.seen))
    facts = [("review", "; ".join(decided))] if decided else []
    return [*facts, *([("seen", "; ".join(seen))] if seen else [])]


def rows_record_of(report: ImplantReport, part: str, rows: Sequence[object]) -> Record:
    """Make the record of a part of an implant's page; its columns are those of its rows."""
    whole = record_of(report)
    columns: tuple[str, ...] = columns_of(type(rows[0])) if rows else ()
    return Record({**whole.facts, "part": part}, columns, whole.more[part])


def _implant_facts(report: ImplantReport) -> list[tuple[str, str]]:
    row = report.row
    (ratio,) = with_limits([(row.rate_ratio, row.ratio_lower, row.ratio_upper)], 2)
    limits = sentences.limits(report.head)
    return [
        ("implant", f"{row.code}: {row.role}, {row.joint_class}"),
        (
            "used",
            f"{row.first_used or NONE} to {row.last_used or NONE}, at {count(row.hospitals)} hospitals by "
            f"{count(row.surgeons)} surgeons",
        ),
        ("its joints", f"{count(row.joints)}; {number(row.implant_years, 0)} implant-years"),
        (
            "revised",
            f"{count(row.revisions)}; {number(row.expected, 1)} expected at the rate of all others of its class",
        ),
        ("rate ratio", f"withheld: {row.withheld}" if row.withheld else f"{ratio.strip()} ({limits}), not adjusted"),
    ]
