"""An answer as a page of plain text: what was asked and of whom, the table, then method and cautions."""

import textwrap
from collections.abc import Callable, Sequence
from functools import singledispatch
from typing import Any

from regdash.output import comparison_sheets, sheets, signal_sheets
from regdash.output.listing import Listing
from regdash.output.sheets import Withheld
from regdash.output.table import Column, labelled, lay_out
from regdash.output.wording import (
    NONE,
    cohort_in_words,
    count,
    grouping_in_words,
    number,
    p_value,
    so_many,
    with_limits,
    within,
)
from regdash.reports.model import (
    ANY_REVISION,
    CompareReport,
    DescribeReport,
    GapReport,
    Head,
    ImplantReport,
    ImplantsReport,
    JointReport,
    JointsReport,
    RatesReport,
    ReasonsReport,
    RiskReport,
)
from regdash.reports.use import CONSTRUCT
from regdash.signals.model import ScreenReport

WIDTH = 79  # of a page, where nothing says that there is more room
USERS = 12  # hospitals and surgeons on the page of one implant
_VIEWS = {"implant": "implant: deaths censored", "patient": "patient: death competes"}

Lines = list[str]


def as_text(report: Any, width: int = WIDTH) -> str:
    """Write an answer for people, in lines no longer than `width` where that can be."""
    return "\n".join(page(report, width)) + "\n"


@singledispatch
def page(report: Any, width: int) -> Lines:
    """Write an answer as lines of text."""
    raise TypeError(f"no page for {type(report).__name__}")


@page.register
def _(report: RiskReport, width: int) -> Lines:
    notes = Withheld()
    level = level_of(report.head)
    lines = [*opening(report.head, width), *tabled(sheets.risk_columns(report.rows, level, notes), width)]
    if report.differences:
        lines += ["", *tabled(comparison_sheets.difference_columns(report.differences, level, notes), width)]
    if report.ceilings:
        lines += ["", *tabled(comparison_sheets.ceiling_columns(report.ceilings), width)]
    if report.missing:
        lines += ["", *tabled(comparison_sheets.missing_columns(report.missing, notes), width)]
    if report.margins:
        lines += ["", *tabled(comparison_sheets.margin_columns(report.margins, level), width)]
        one = report.margins[0]
        excess = f"Excess: risk less {1 + one.margin:g} times that of {one.reference}, in percentage points."
        lines += ["", *wrapped(excess, width)]
    return [*lines, *_closing(report.head, width, notes)]


@page.register
def _(report: CompareReport, width: int) -> Lines:
    notes, level = Withheld(), level_of(report.head)
    ratios = comparison_sheets.compare_columns(report.rows, level, notes)
    tests = comparison_sheets.tested_columns(report.tests, notes)
    lines = [*opening(report.head, width), *tabled(ratios, width), "", *tabled(tests, width), ""]
    return [*lines, *labelled([("model", report.model)], width), *_closing(report.head, width, notes)]


@page.register
def _(report: GapReport, width: int) -> Lines:
    notes = Withheld()
    columns = comparison_sheets.gap_columns(report, level_of(report.head), notes)
    one, other = report.groups
    said = wrapped(f"{one.label} less {other.label}, {within(report.years)}, in percentage points.", width)
    return [*opening(report.head, width), *tabled(columns, width), "", *said, *_closing(report.head, width, notes)]


@page.register
def _(report: ReasonsReport, width: int) -> Lines:
    notes, head = Withheld(), report.head
    columns = sheets.reason_columns(report.rows, level_of(head), notes)
    lines = tabled(columns, width)
    counts = f"Counts over all follow-up; incidence {within(report.years)}."
    return [*opening(head, width), *lines, "", *wrapped(counts, width), *_closing(head, width, notes)]


@page.register
def _(report: RatesReport, width: int) -> Lines:
    notes = Withheld()
    level = level_of(report.head)
    columns = sheets.rate_columns(report.rows if report.windows is None else report.windows, level, notes)
    return [*opening(report.head, width), *tabled(columns, width), *_closing(report.head, width, notes)]


@page.register
def _(report: DescribeReport, width: int) -> Lines:
    notes = Withheld()
    lines = tabled(sheets.describe_columns(report.rows, notes), width)
    said = wrapped("Age: mean at the primary. Years: median follow-up.", width)
    return [*opening(report.head, width), *lines, "", *said, *_closing(report.head, width, notes)]


@page.register
def _(report: ImplantsReport, width: int) -> Lines:
    notes = Withheld()
    columns = sheets.implant_columns(report.rows, level_of(report.head), notes)
    said = wrapped("Ratio: its rate to that of all others of its class; p: one-sided.", width)
    lines = [*opening(report.head, width), *tabled(columns, width), "", *said]
    return lines + _closing(report.head, width, notes)


@page.register
def _(report: ScreenReport, width: int) -> Lines:
    notes, head = Withheld(), report.head
    rows = signal_sheets.shown_rows(report)
    columns = signal_sheets.screen_columns(rows, report.kind, level_of(head), notes)
    lines = [*opening(head, width, signal_sheets.screen_facts(report)), *tabled(columns, width), ""]
    return [*lines, *wrapped(signal_sheets.what_is_shown(report, rows), width), *_closing(head, width, notes)]


@page.register
def _(report: ImplantReport, width: int) -> Lines:
    notes = Withheld()
    users = [
        (f"{name}{_of(rows)}", sheets.rate_columns(rows[:USERS], level_of(report.head), notes))
        for name, rows in (("Hospitals", report.hospitals), ("Surgeons", report.surgeons))
    ]
    lines = [*opening(report.head, width), *labelled(implant_facts(report), width)]
    for title, columns in [*implant_tables(report, notes), *users]:
        lines += ["", title, "", *tabled(columns, width)]
    return lines + _closing(report.head, width, notes)


def implant_tables(
    report: ImplantReport, notes: Withheld, names: Sequence[str] = ("risk", "reasons", "windows", "sizes")
) -> list[tuple[str, list[Column]]]:
    """Give title and columns of what is known of one implant beside all others, its users aside."""
    level = level_of(report.head)
    reasons = f"Reasons, incidence {within(report.reasons.years)}"
    parts: dict[str, Callable[[], tuple[str, list[Column]]]] = {
        "risk": lambda: ("Risk", sheets.risk_columns(report.risk.rows, level, notes)),
        "reasons": lambda: (reasons, sheets.reason_columns(report.reasons.rows, level, notes)),
        "windows": lambda: ("Time since implantation", sheets.rate_columns(report.windows, level, notes)),
        "sizes": lambda: ("Sizes", sheets.rate_columns(report.sizes, level, notes)),
    }
    return [parts[name]() for name in names]


def _of(rows: Sequence[Any]) -> str:
    return f", {USERS} of {count(len(rows))} (all of them: --json)" if len(rows) > USERS else ""


def implant_facts(report: ImplantReport) -> list[tuple[str, str]]:
    """Say what it is, who used it, and how its rate stands to that of all others."""
    row, level = report.row, level_of(report.head)
    (ratio,) = with_limits([(row.rate_ratio, row.ratio_lower, row.ratio_upper)], 2)
    ratio = f"{ratio}, {100 * level:g} % limits, p {p_value(row.p)}, not adjusted"
    expected = f"expected {number(row.expected, 1)} at the rate of all others of its class"
    is_construct = row.role == CONSTRUCT
    what = row.joint_class if is_construct else f"{row.role}, {row.joint_class}"
    return [
        (CONSTRUCT if is_construct else "implant", f"{row.code}: {what}"),
        ("used", f"{row.first_used or NONE} to {row.last_used or NONE}"),
        ("used by", f"{so_many(row.hospitals, 'hospital')}, {so_many(row.surgeons, 'surgeon')}"),
        ("its joints", f"{count(row.joints)}; {number(row.implant_years, 0)} implant-years"),
        ("revised", f"{count(row.revisions)}; {expected}"),
        ("rate ratio", f"withheld: {row.withheld}; p {p_value(row.p)}" if row.withheld else ratio),
    ]


@page.register
def _(report: JointsReport, width: int) -> Lines:
    first, last = report.offset + 1, report.offset + len(report.rows)
    which = (
        f"Joints {first:,} to {last:,} of {report.total:,}."
        if report.rows
        else f"None of {so_many(report.total, 'joint')}."
    )
    lines = tabled(sheets.joints_columns(report), width)
    return [*opening(report.head, width), *lines, "", which, *_closing(report.head, width, Withheld())]


@page.register
def _(report: JointReport, width: int) -> Lines:
    facts = [("data cut", report.head.cut), *report.facts]
    lines = [f"One joint's life: {report.joint_id}", "", *labelled(facts, width), ""]
    return [*lines, *tabled(sheets.event_columns(report.events), width), *_closing(report.head, width, Withheld())]


@page.register
def _(listing: Listing, width: int) -> Lines:
    lines = tabled(sheets.listing_columns(listing), width)
    remarks = [line for remark in listing.remarks for line in wrapped(remark, width)]
    return [*lines, *([""] if remarks else []), *remarks]


def level_of(head: Head) -> float:
    """The level of all limits of an answer."""
    return float(head.settings["confidence_level"])


def opening(head: Head, width: int, more: Sequence[tuple[str, str]] = ()) -> Lines:
    """Say what was asked, of which joints of which cut, and how many they are."""
    by = f", by {grouping_in_words(head.by)}" if head.by else ""
    title = f"{head.measure[:1].upper()}{head.measure[1:]}{_of_what(head)}{by}"
    beside = [] if head.beside is None else [("beside", cohort_in_words(head.beside))]
    facts = [("cohort", cohort_in_words(head.cohort)), *beside, ("data cut", head.cut), ("joints", _denominators(head))]
    facts += [("view", _VIEWS[head.view])] if head.view else []
    return [*wrapped(title, width), "", *labelled([*facts, *more], width), ""]


def _of_what(head: Head) -> str:
    """Say the endpoint where it is not any revision: "cumulative incidence of revision" + " for infection"."""
    if head.endpoint.startswith(ANY_REVISION):
        return ""
    if head.measure.endswith("of revision") and head.endpoint.startswith("revision "):
        return head.endpoint.removeprefix("revision")
    return f": {head.endpoint}"


def _denominators(head: Head) -> str:
    joints = f"{count(head.joints)} in {so_many(head.patients, 'patient')}"
    counts = f"{joints}; {count(head.revisions)} revised, {so_many(head.held_revisions, 'revision')} held back"
    median = head.median_follow_up
    return counts if median is None else f"{counts}; median follow-up {number(median, 1)} years"


def tabled(columns: Sequence[Column], width: int, says_left_out: bool = True) -> Lines:
    """Set columns side by side, and say which did not fit."""
    table = lay_out(columns, width)
    lines = [*table.lines] if columns and len(columns[0].cells) else [*table.lines, "(none)"]
    if table.left_out and says_left_out:
        lines += ["", *wrapped(f"Left out at this width (--csv has all): {', '.join(table.left_out)}.", width)]
    return lines


def _closing(head: Head, width: int, notes: Withheld) -> Lines:
    return closing(head.method, head.cautions, width, notes)


def closing(method: str, cautions: Sequence[str], width: int, notes: Withheld) -> Lines:
    """Say why figures are withheld, how the rest was made, and how it may mislead."""
    lines = ["", *labelled(notes.notes, width), *([""] if notes.notes else []), *labelled([("method", method)], width)]
    return lines + [line for caution in cautions for line in wrapped(f"- {caution}", width, "  ")]


def wrapped(text: str, width: int, indent: str = "") -> Lines:
    """Wrap a sentence."""
    return textwrap.wrap(text, width, subsequent_indent=indent, break_on_hyphens=False)
