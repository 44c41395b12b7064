"""Signals and what became of them, as a page and in the form that programs get; importing it makes it known to both."""

from collections.abc import Sequence
from dataclasses import asdict, replace
from typing import Any

from regdash.output.people import Lines, closing, level_of, opening, page, tabled, wrapped
from regdash.output.record import WITHHELD, Record, columns_of, head_facts, record_of
from regdash.output.sheets import Withheld, limits_heading
from regdash.output.signal_sheets import screen_facts
from regdash.output.table import Column, labelled
from regdash.output.wording import NONE, Limits, count, number, p_value, with_limits
from regdash.signals.model import FIRST_SEEN, NOT_SEEN, SEEN_AGAIN, ScreenRow, SignalRow, SignalsReport

SHOWN = 40  # rows on a page
_FIGURES = tuple(name for name in columns_of(ScreenRow) if name not in ("code", "role", "class", WITHHELD))
_BEFORE = ("revisions", "expected", "hazard_ratio", "q")
COLUMNS = (
    *("code", "joint", "class", "role"),
    *_FIGURES,
    *("state", "seen", "cause", "moved", "moved_revisions"),
    *(f"{name}_before" for name in _BEFORE),
    *("decision", "decided_by", "decided_at", "decided_on", "why"),
    WITHHELD,
)


@record_of.register
def _(report: SignalsReport) -> Record:
    screen = record_of(report.screen)
    asked = {name: value for name, value in screen.facts.items() if name not in head_facts(report.head)}
    compared = {"compared_with": report.earlier, **_seen(report)}
    return Record(
        {**head_facts(report.head), **asked, **compared}, COLUMNS, [_row(row) for row in report.rows], screen.more
    )


def _seen(report: SignalsReport) -> dict[str, int | None]:
    """How many units are new, are there again and are gone; None where nothing was compared."""
    whats = (FIRST_SEEN, SEEN_AGAIN, NOT_SEEN)
    return {what.replace(" ", "_"): report.seen(what) if report.earlier else None for what in whats}


def _row(row: SignalRow) -> dict[str, Any]:
    unit, screened, review = row.unit, asdict(row.screened), row.review
    written: dict[str, Any] = {"code": unit.code, "joint": unit.joint, "class": unit.joint_class, "role": unit.role}
    written |= {name: screened[name] for name in _FIGURES}
    written |= {"state": row.state, "seen": row.seen}
    moved = row.moved
    written |= {"cause": moved.cause if moved else None, "moved": (moved.sentence or None) if moved else None}
    written["moved_revisions"] = moved.parts if moved else None
    written |= {f"{name}_before": getattr(row.before, name, None) for name in _BEFORE}
    said: tuple[Any, ...] = (None,) * 5
    if review:
        said = (review.number, review.decided_by, review.decided_at, review.rests_on.cut, review.why)
    written |= dict(zip(("decision", "decided_by", "decided_at", "decided_on", "why"), said))
    return written | ({WITHHELD: row.screened.withheld} if row.screened.withheld else {})


@page.register
def _(report: SignalsReport, width: int) -> Lines:
    notes, head = Withheld(), report.head
    rows = report.rows[:SHOWN]
    facts = [*screen_facts(report.screen), *_compared(report)]
    columns = signal_columns(rows, report.kind, level_of(head), notes)
    told = [
        (f"{row.unit.code}, {row.screened.window}", f"{row.seen}: {row.moved.cause}{_sentence(row)}")
        for row in rows
        if row.moved
    ]
    more = [] if len(rows) == len(report.rows) else [f"{len(rows):,} of {len(report.rows):,} rows are shown (--csv)."]
    lines = [*opening(head, width, facts), *tabled(columns, width)]
    lines += ["", *labelled(told, width)] if told else []
    lines += [line for text in more for line in ("", *wrapped(text, width))]
    return [*lines, *closing(head.method, head.cautions, width, notes)]


def _sentence(row: SignalRow) -> str:
    return f". {row.moved.sentence}" if row.moved and row.moved.sentence else ""


def _compared(report: SignalsReport) -> list[tuple[str, str]]:
    if not report.earlier:
        return []
    said = ", ".join(f"{number or 0:,} {what.replace('_', ' ')}" for what, number in _seen(report).items())
    # The table has a row a window.
    return [("since", f"{report.earlier}: of {report.kind}, in one window or more, {said}")]


def signal_columns(rows: Sequence[SignalRow], kind: str, level: float, notes: Withheld) -> list[Column]:
    """Show signals and what was decided on; whose row is not in the screen has dashes and a note."""
    found = [row.screened for row in rows]
    ratios: list[Limits] = [(row.hazard_ratio, row.lower, row.upper) for row in found]
    why = [row.withheld if row.hazard_ratio is None else None for row in found]
    return [
        Column(kind.removesuffix("s"), [row.unit.code for row in rows], left=True, least=14),
        Column("role", [row.unit.role for row in rows], left=True, rank=5, least=8),
        Column("class", [f"{row.unit.joint_class} {row.unit.joint}" for row in rows], left=True, rank=4, least=6),
        Column("years", [row.window for row in found], left=True),
        Column("joints", [count(row.joints) for row in found], rank=6),
        Column("revised", [count(row.revisions) for row in found], rank=1),
        Column("expected", [number(row.expected, 1) for row in found], rank=3),
        Column(limits_heading("ratio", level), notes.mark(with_limits(ratios, 2), why), left=True, rank=2),
        Column("q", [p_value(row.q) for row in found]),
        Column("signal", [row.signal for row in found], left=True, rank=7),
        Column("review", [row.state for row in rows], left=True),
        Column("seen", [row.seen or NONE for row in rows], left=True),
        Column("by", [row.review.decided_by if row.review else NONE for row in rows], left=True, rank=8),
    ]


def listed_only(report: SignalsReport, states: Sequence[str] = ()) -> SignalsReport:
    """Keep what is a signal, was one, or was decided on; and of these one or more states, where they are named."""
    kept = [row for row in report.rows if row.is_listed and (not states or row.state in states)]
    return replace(report, rows=tuple(kept))
