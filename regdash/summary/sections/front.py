"""The front: period, cut, dates through which feeds are complete, what is new, and a few figures with limits."""

from typing import Any

import regdash
from regdash.cohort import Cohort
from regdash.output.record import record_of
from regdash.output.sheets import Withheld, once
from regdash.output.table import Column
from regdash.output.wording import NONE, count, number, percent
from regdash.reports.changes import PARTS as CHANGE_PARTS
from regdash.reports.changes import RISK, YEARS, ChangesReport, ChangesRow
from regdash.reports.policy import Policy
from regdash.signals.model import IMPLANTS, SEEN
from regdash.store.cuts import Manifest
from regdash.summary import sentences
from regdash.summary.asker import Asker
from regdash.summary.document import Block, Bullets, Facts, Paragraph, Provenance, Section, Table, Warned
from regdash.summary.sections.names import PLURALS

REVIEW = (
    "For review under local governance. A signal starts a review and shows no cause. Nothing here is advice for one "
    "patient; decisions rest with licensed practitioners and the competent authority."
)
SHORT = "for review under local governance; not clinical advice"
CHANGE_YEARS = (1.0, 5.0, 10.0)


def section(asker: Asker) -> Section:
    """Open the summary."""
    blocks: list[Block] = [Warned(REVIEW), Facts(tuple(_facts(asker)))]
    return Section("front", "At a glance", tuple(blocks), (_headlines(asker), _new(asker)))


def _facts(asker: Asker) -> list[tuple[str, str]]:
    cut, quarter = asker.cut, asker.quarter
    return [
        ("period", f"{quarter}: {quarter.first.isoformat()} to {quarter.last.isoformat()}"),
        ("data cut", f"{cut.cut}: events through {cut.through_date}, as known on {cut.known_as_of}"),
        ("operations complete", completed(cut.complete_through.get("operations"))),
        ("deaths complete", completed(cut.complete_through.get("deaths"))),
        ("in the cut", f"{_cut_counts(asker)}"),
        ("content hash", f"{cut.content_hash} (format {cut.hash_format})"),
        ("software", f"regdash {regdash.__version__}; cut made by {cut.software}"),
        ("definitions", f"rules {cut.rule_set}, code lists {cut.code_lists}, catalogue {cut.catalogue}"),
        ("screening", f"version {asker.desk.settings.version}, hash {asker.desk.settings.hash}"),
        ("reviews", f"as of {asker.reviews.as_of.isoformat()}: {asker.reviews.taken:,} decisions on signals"),
        ("edition", f"{asker.edition.name}, version {asker.edition.version}, hash {asker.edition.hash}"),
        ("withheld", policy_in_words(asker.desk.policy)),
    ]


def _cut_counts(asker: Asker) -> str:
    policy, cut = asker.desk.policy, asker.cut
    joints, patients, revised = (policy.said(n) for n in (cut.joints, cut.patients, cut.revisions))
    return f"{joints} joints in {patients} patients; {revised} revised"


def completed(through: Any) -> str:
    """Say through when a feed is complete: a date, or the earliest and latest of many senders."""
    if isinstance(through, dict):
        dates = sorted(date for date in through.values() if date)
        if not dates:
            return "nothing is said"
        behind = sum(date < dates[-1] for date in dates)
        same = f"through {dates[-1]} at {len(dates)} hospitals"
        return (
            same
            if not behind
            else f"between {dates[0]} and {dates[-1]} at {len(dates)} hospitals, {behind} of them before the last date"
        )
    return f"through {through}" if through else "nothing is said"


def policy_in_words(policy: Policy) -> str:
    """Say when figures are withheld."""
    said = (
        f"risks with fewer than {policy.minimum_at_risk} joints at risk, ratios and shares with fewer than "
        f"{policy.minimum_events} revisions in a group"
    )
    if policy.withholds_counts:
        return f"{said}; counts of 1 to {policy.withhold_counts_under - 1}"
    return f"{said}; small counts are shown, since this edition stays in the office"


def _headlines(asker: Asker) -> Section:
    said, missing = [], []
    for question in asker.edition.questions["front"]:
        cohort = asker.cohort(question.filter, question.title)
        if not asker.holds(cohort):
            missing.append(f"{question.title}: no joint of this data cut.")
            continue
        report = asker.desk.risk(cohort, (), question.years or (10.0,))
        asker.noted(report.head)
        for row in report.rows:
            sentence = sentences.risk_sentence(
                question.title, row, report.head, report.head.joints, asker.period(cohort)
            )
            missing += [f"{question.title}, {row.years:g} years: withheld: {row.withheld}."] if row.withheld else []
            said += [sentence] if sentence else []
    return Section("headlines", "Headline figures", (Bullets((*said, *missing)),) if said or missing else ())


def _new(asker: Asker) -> Section:
    """Say what moved since the cut before, where there is one."""
    if asker.earlier is None:
        before = f"{asker.quarter.before}"
        text = (
            f"There is no earlier data cut in this store that ends by {asker.quarter.first.isoformat()}, so "
            "nothing can "
            f"be said about what moved since {before}. Signals of this quarter stand in the section on implants."
        )
        return Section("new", "What is new", (Paragraph(text),))
    report = asker.desk.changes(asker.earlier.cut, Cohort(), (), CHANGE_YEARS)
    asker.noted(report.head)
    said = Paragraph(
        f"Against data cut {asker.earlier.cut} (through {asker.earlier.through_date}): every figure is split into what "
        "moved it. Late: it happened before that cut ended and was reported after. New: it happened since."
    )
    return Section("new", "What is new", (said, *_new_signals(asker, asker.earlier), _changes_table(asker, report)))


def _new_signals(asker: Asker, earlier: Manifest) -> list[Block]:
    """Say how many implants have a signal for the first time, again, or no longer, joint by joint."""
    said = []
    for joint in asker.edition.joints:
        cohort = asker.cohort(f"joint={joint}", "front")
        if not asker.holds(cohort):
            continue
        report = asker.desk.signals(IMPLANTS, cohort, since=earlier.cut, reviews_as_of=asker.reviews.as_of)
        if report.earlier:
            counts = sentences.several([f"{report.seen(what):,} {what}" for what in SEEN])
            said.append(f"{PLURALS[joint]}: implants with a signal, {counts}.")
    return [Bullets(tuple(said))] if said else []


def _changes_table(asker: Asker, report: ChangesReport) -> Table:
    notes, rows = Withheld(), report.rows
    why = [row.withheld if row.before is None else None for row in rows]
    columns = [
        Column("group", once([row.group for row in rows]), left=True),
        Column("figure", [_figure(row) for row in rows], left=True),
        Column("before", notes.mark([_written(row, row.before) for row in rows], why)),
        *(
            Column(name.replace("_", " "), [_written(row, row.parts[n]) for row in rows], rank=6 - n)
            for n, name in enumerate(CHANGE_PARTS)
        ),
        Column("after", [_written(row, row.after) for row in rows]),
    ]
    asker.noted(report.head)
    years = ",".join(f"{year:g}" for year in CHANGE_YEARS)
    come_from = Provenance(
        "changes",
        "",
        f"All joints of data cuts {report.head.earlier} and {report.head.cut}; risks in per cent, what moved "
        "in points.",
        ("changes", report.head.earlier, report.head.cut, "--years", years),
    )
    return Table(
        "changes", "What moved since the cut before", tuple(columns), record_of(report), come_from, tuple(notes.notes)
    )


def _figure(row: ChangesRow) -> str:
    if row.figure == RISK:
        return f"risk by {sentences.at_years(row.years or 0.0)}, %"
    return "implant-years" if row.figure == YEARS else row.figure


def _written(row: ChangesRow, value: float | None) -> str:
    if value is None:
        return NONE
    if row.figure == RISK:
        return percent(value, 2)
    return number(value, 0) if row.figure == YEARS else count(int(value))
