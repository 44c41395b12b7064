"""A replayed screen as a page and in the form that programs get; importing it makes it known to both."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from regdash.output.people import Lines, closing, opening, page, tabled, wrapped
from regdash.output.record import WITHHELD, Record, head_facts, record_of
from regdash.output.sheets import Withheld
from regdash.output.table import Column
from regdash.output.wording import NONE, count, number, so_many
from regdash.reports.wording import fields
from regdash.signals.history_model import NO_SIGNAL, NOT_TESTED, NOT_USED, SIGNAL, HistoryReport, HistoryRow
from regdash.signals.history_strip import LEGEND, history_lines, strip

SHOWN = 40  # rows on a page
STRIP = 24  # quarters in a table
STATE_WORDS = {SIGNAL: "signal", NO_SIGNAL: "no signal", NOT_TESTED: "too few to test", NOT_USED: "not used yet"}
COLUMNS = (
    *("code", "role", "class", "first_used", "first_seen", "window", "years_to_first_seen", "joints", "revisions"),
    *("quarters_seen", "quarters_since", "now", "states", WITHHELD),
)


@dataclass(frozen=True)
class HistoryOfCode:
    """The rows of one code."""

    report: HistoryReport
    code: str

    @property
    def rows(self) -> tuple[HistoryRow, ...]:
        """One a role and class."""
        return self.report.of(self.code)


@record_of.register
def _(report: HistoryReport) -> Record:
    return _record(report, report.rows)


@record_of.register
def _(one: HistoryOfCode) -> Record:
    return _record(one.report, one.rows)


def _record(report: HistoryReport, rows: tuple[HistoryRow, ...]) -> Record:
    asked = {
        "screened": report.kind,
        "adjust": ",".join(map(str, report.adjust)),
        "windows": list(report.windows),
        "screening": report.settings.facts,
        "method_version": report.method_version,
        "never_tested": report.never_tested,
        "states": STATE_WORDS,
    }
    quarters = [
        {"quarter": quarter, "tests": tests, "signals": signals}
        for quarter, tests, signals in zip(report.quarters, report.tests, report.signals, strict=True)
    ]
    return Record({**head_facts(report.head), **asked}, COLUMNS, [_row(row) for row in rows], {"quarters": quarters})


def _row(row: HistoryRow) -> dict[str, Any]:
    names = (name for name in COLUMNS if name not in ("class", WITHHELD))
    written = {name: getattr(row, name) for name in names}
    written["first_used"] = row.first_used.isoformat() if row.first_used else None
    in_order = {name: row.joint_class if name == "class" else written[name] for name in COLUMNS if name != WITHHELD}
    return in_order | ({WITHHELD: row.withheld} if row.withheld else {})


@page.register
def _(report: HistoryReport, width: int) -> Lines:
    notes = Withheld()
    seen = [row for row in report.rows if row.first_seen]
    rows = seen[:SHOWN]
    lines = [*opening(report.head, width, _facts(report)), *tabled(_columns(rows, notes), width)]
    said = [f"{LEGEND}. The newest {STRIP} quarters; years from first use to the first signal; counts as known then."]
    if len(rows) < len(seen):
        said.append(f"{len(rows):,} of {len(seen):,} units that were a signal are shown (--csv).")
    never = len(report.rows) - len(seen)
    said += [f"{so_many(never, 'unit')} {'was' if never == 1 else 'were'} tested and never a signal (--csv has all)."]
    lines += [line for text in said for line in ("", *wrapped(text, width))]
    return [*lines, *closing(report.head.method, report.head.cautions, width, notes)]


@page.register
def _(one: HistoryOfCode, width: int) -> Lines:
    report, rows = one.report, one.rows
    lines = opening(report.head, width, _facts(report))
    lines += history_lines(rows, report.quarters, width) or wrapped(f"{one.code} was never tested.", width)
    return [*lines, *closing(report.head.method, report.head.cautions, width, Withheld())]


def _facts(report: HistoryReport) -> list[tuple[str, str]]:
    settings = report.settings
    adjusted = fields([grouping.field.key for grouping in report.adjust]) or NONE
    facts = [("adjusted", adjusted), ("settings", f"version {settings.version}, hash {settings.hash}")]
    if report.quarters:
        spanned = f"{report.quarters[0]} to {report.quarters[-1]}; {so_many(report.signals[-1], 'signal')} in the last"
        facts.append(("quarters", spanned))
    return facts


def _columns(rows: Sequence[HistoryRow], notes: Withheld) -> list[Column]:
    why = [row.withheld for row in rows]
    return [
        Column("code", [row.code for row in rows], left=True, least=14),
        Column("role", [row.role for row in rows], left=True, rank=4, least=8),
        Column("class", [row.joint_class for row in rows], left=True, rank=3, least=6),
        Column("first seen", [row.first_seen or NONE for row in rows], left=True),
        Column("years", [number(row.years_to_first_seen, 1) for row in rows], rank=1),
        Column("joints", notes.mark([count(row.joints) for row in rows], why), rank=5),
        Column("revised", notes.mark([count(row.revisions) for row in rows], why), rank=6),
        Column("now", [row.now for row in rows], left=True),
        Column("quarters", [strip(row.states, STRIP) for row in rows], left=True, rank=2),
    ]
