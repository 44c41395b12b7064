"""Why own primaries were revised, beside all others."""

from dataclasses import replace

from regdash.cohort import Cohort
from regdash.output.record import record_of_rows
from regdash.output.sheets import Withheld, once
from regdash.output.table import Column
from regdash.output.wording import count, with_limits
from regdash.reports.model import ReasonRow
from regdash.summary import sentences
from regdash.summary.asker import Asker
from regdash.summary.disclosure import reasons_of_others, why_hidden
from regdash.summary.document import Paragraph, Section, Table
from regdash.summary.edition import Question
from regdash.summary.sections.names import PLURALS, slug
from regdash.summary.sections.own_activity import own_words
from regdash.summary.sections.own_overlap import total_tells
from regdash.summary.sections.own_risk import OTHERS, OWN

UNSAID = "The reasons of all others cannot be told: too few of them were revised."


def section(asker: Asker) -> Section:
    """Ask for the reasons of the edition, own beside all others."""
    intro = Paragraph(
        "A reason is what the surgeon recorded as leading, not a proven cause. Incidences are of joints, with death "
        "competing."
    )
    parts = [
        _part(asker, question, joint, cohort)
        for question in asker.edition.questions["reasons"]
        for joint, cohort in asker.asked(question)
    ]
    return Section("own-reasons", "Reasons for revision, beside all others", (intro,), tuple(parts))


def _part(asker: Asker, question: Question, joint: str, cohort: Cohort) -> Section:
    title = question.title if question.filter else f"{PLURALS[joint]}: {question.title.lower()}"
    name = slug("own-reasons", "" if question.filter else joint, question.title)
    years = question.years[0] if question.years else asker.edition.reason_years
    own_cohort, rest = cohort.having(own_words(asker)), cohort.having(own_words(asker).replace("=", "!=", 1))
    report = asker.desk.reasons(own_cohort, (), years)
    own = {row.reason: row for row in report.rows}
    theirs = asker.desk.reasons(rest, (), years).rows
    told = asker.desk.unit_revisions(f"{asker.recipient.kind}s", cohort, (years,))
    by_time = dict(zip(told.reasons, told.others(asker.recipient.code)[:, 0].tolist()))
    counts = {row.reason: by_time[row.reason] for row in theirs}
    one_goes = total_tells(asker, joint, cohort, years, sum(counts.values()))
    width = asker.edition.protection_width
    kept = reasons_of_others(asker.others, width, theirs, list(counts.values()), one_goes)
    others = {row.reason: row for row in kept}
    for reason, number in counts.items():
        if (reason in others and others[reason].withheld == why_hidden(asker.others)) or (number and not others):
            asker.keep(name, OTHERS, reason, number, why_hidden(asker.others))
    if not own:
        return Section(name, title, (Paragraph("None of the own joints among these was revised."),))
    pairs = [(OWN, row) for row in own.values()] + [(OTHERS, row) for row in others.values()]
    notes, rows = Withheld(), [row for _, row in pairs]
    cells = [cell.strip() for cell in with_limits([(row.incidence, row.lower, row.upper) for row in rows], 1, 100)]
    columns = (
        Column("whose", once([who for who, _ in pairs]), left=True),
        Column("reason", [row.reason for row in rows], left=True),
        Column("revised", [count(row.revisions) for row in rows]),
        Column(f"by {sentences.at_years(years)}, %", notes.mark(cells, [row.withheld for row in rows]), left=True),
    )
    record = record_of_rows(report.head.measure, ReasonRow, [replace(row, group=who) for who, row in pairs])
    of = f"{title}; revised counts are over all follow-up, to {asker.cut.through_date}, and given of own joints alone."
    come_from = asker.uncounted(report.head, own_cohort, of, ("reasons", *own_cohort.words, "--years", f"{years:g}"))
    table = Table(name, f"{title}: reasons for revision", columns, record, come_from, tuple(notes.notes))
    unsaid = (Paragraph(UNSAID),) if any(counts.values()) and not others else ()
    return Section(name, title, (table, *unsaid))
