"""Which columns people see for each kind of row, in what form, and which of them a narrow terminal leaves out."""

from collections.abc import Iterable, Sequence
from typing import Any

from regdash.output.listing import Listing
from regdash.output.table import Column
from regdash.output.wording import NONE, Limits, count, number, p_value, percent, window, with_limits, years
from regdash.reports.model import (
    DescribeRow,
    ImplantRow,
    JointEvent,
    JointsReport,
    RateRow,
    ReasonRow,
    RiskRow,
)
from regdash.reports.window_row import WindowRateRow

LABEL = 14  # the width down to which a label may be wrapped


class Withheld:
    """Numbers the reasons for withholding, so that a cell can point to the sentence under its table."""

    def __init__(self) -> None:
        self._numbers: dict[str, int] = {}

    def mark(self, figures: Sequence[str], reasons: Iterable[str | None]) -> list[str]:
        """Put a pointer in place of each figure that has a reason."""
        return [figure if why is None else self._pointer(why) for figure, why in zip(figures, reasons)]

    def _pointer(self, why: str) -> str:
        return f"withheld [{self._numbers.setdefault(why, len(self._numbers) + 1)}]"

    @property
    def notes(self) -> list[tuple[str, str]]:
        """Each pointer and its sentence."""
        return [(f"[{place}]", f"withheld: {why}") for why, place in self._numbers.items()]


def limits_heading(what: str, level: float) -> str:
    """Head a column of estimates: "risk, % (95 % limits)"."""
    return f"{what} ({100 * level:g} % limits)"


def once(labels: Sequence[str]) -> list[str]:
    """Write a label only where it changes."""
    return [label if n == 0 or labels[n - 1] != label else "" for n, label in enumerate(labels)]


def groups_column(rows: Sequence[Any]) -> Column:
    """Name each row's group where it changes."""
    return Column("group", once([row.group for row in rows]), left=True, least=LABEL)


def risk_columns(rows: Sequence[RiskRow], level: float, notes: Withheld) -> list[Column]:
    """Show risk by group and time."""
    figures: list[Limits] = [(row.estimate, row.lower, row.upper) for row in rows]
    return [
        groups_column(rows),
        Column("years", [years(row.years) for row in rows]),
        Column("at risk", [count(row.at_risk) for row in rows]),
        Column("revised", [count(row.revisions) for row in rows]),
        Column(
            limits_heading("risk, %", level),
            notes.mark(with_limits(figures, 1, 100), [row.withheld for row in rows]),
            left=True,
        ),
    ]


def reason_columns(rows: Sequence[ReasonRow], level: float, notes: Withheld) -> list[Column]:
    """Show each reason's counts, share and cumulative incidence by group."""
    figures: list[Limits] = [(row.incidence, row.lower, row.upper) for row in rows]
    return [
        groups_column(rows),
        Column("reason", [row.reason for row in rows], left=True, least=LABEL),
        Column("revised", [count(row.revisions) for row in rows]),
        Column("share, %", [percent(row.share) for row in rows]),
        Column(
            limits_heading("incidence, %", level),
            notes.mark(with_limits(figures, 1, 100), [row.withheld for row in rows]),
            left=True,
        ),
    ]


def rate_columns(rows: Sequence[RateRow | WindowRateRow], level: float, notes: Withheld) -> list[Column]:
    """Show revisions per 100 implant-years by group, and by window where there are windows."""
    figures: list[Limits] = [(row.per_100_implant_years, row.lower, row.upper) for row in rows]
    windows = _window_columns([row for row in rows if isinstance(row, WindowRateRow)])
    # One group needs no name beside windows, which need the room.
    groups = [groups_column(rows)] if not windows or len({row.group for row in rows}) > 1 else []
    return [
        *groups,
        *windows,
        Column("joints", [count(row.joints) for row in rows], rank=2 if windows else 0),
        Column("implant-years", [number(row.implant_years, 0) for row in rows], rank=1 if windows else 0),
        Column("revised", [count(row.revisions) for row in rows]),
        Column(
            limits_heading("per 100 years", level),
            notes.mark(with_limits(figures, 2), [row.withheld for row in rows]),
            left=True,
        ),
    ]


def _window_columns(rows: Sequence[WindowRateRow]) -> list[Column]:
    """Show which windows: since implantation, of the calendar, or both."""
    columns = []
    if any(row.from_date or row.to_date for row in rows):
        dates = [_dates(row.from_date, row.to_date) for row in rows]
        columns.append(Column("calendar", dates, left=True, least=len("2015-01-01")))
    if any(row.from_years or row.to_years for row in rows):
        since = [window(row.from_years, row.to_years) for row in rows]
        columns.append(Column("since", since, left=True, least=len("and later")))
    return columns


def _dates(first: str | None, last: str | None) -> str:
    """
    Write a window of the calendar.

    >>> _dates(None, "2009-12-31"), _dates("2010-01-01", None)
    ('to 2009-12-31', 'from 2010-01-01')
    """
    return " ".join([*([f"from {first}"] if first else []), *([f"to {last}"] if last else [])])


def describe_columns(rows: Sequence[DescribeRow], notes: Withheld) -> list[Column]:
    """Show who the joints are; what the policy withholds is marked where it would stand."""

    def cells(name: str, figures: list[str]) -> list[str]:
        return notes.mark(figures, [row.withheld if getattr(row, name) is None else None for row in rows])

    return [
        groups_column(rows),
        Column("joints", cells("joints", [count(row.joints) for row in rows])),
        Column("patients", [count(row.patients) for row in rows], rank=1),
        Column("age", [number(row.mean_age, 1) for row in rows]),
        Column("female, %", cells("female", [percent(row.female) for row in rows])),
        Column("years", [number(row.median_follow_up, 1) for row in rows]),
        Column("revised", cells("revised", [count(row.revised) for row in rows])),
        Column("died", cells("died", [count(row.died) for row in rows])),
        Column("lost", cells("lost", [count(row.lost) for row in rows])),
        Column("hospitals", [count(row.hospitals) for row in rows], rank=2),
        Column("surgeons", [count(row.surgeons) for row in rows], rank=3),
        Column("first", [row.first_date or NONE for row in rows], rank=4),
        Column("last", [row.last_date or NONE for row in rows], rank=5),
    ]


def implant_columns(rows: Sequence[ImplantRow], level: float, notes: Withheld) -> list[Column]:
    """Show each implant against all others of its class."""
    rates: list[Limits] = [(row.per_100_implant_years, row.lower, row.upper) for row in rows]
    ratios: list[Limits] = [(row.rate_ratio, row.ratio_lower, row.ratio_upper) for row in rows]
    why = [row.withheld for row in rows]
    return [
        Column("implant", [row.code for row in rows], left=True),
        Column("role", [row.role for row in rows], left=True, least=8),
        Column("class", [row.joint_class for row in rows], left=True, least=11),
        Column("joints", [count(row.joints) for row in rows]),
        Column("revised", [count(row.revisions) for row in rows]),
        Column("expected", [number(row.expected, 1) for row in rows], rank=2),
        Column(limits_heading("per 100 years", level), notes.mark(with_limits(rates, 2), why), left=True, rank=4),
        Column(limits_heading("ratio", level), notes.mark(with_limits(ratios, 2), why), left=True),
        Column("p", [p_value(row.p) for row in rows]),
        Column("hospitals", [count(row.hospitals) for row in rows], rank=5),
        Column("surgeons", [count(row.surgeons) for row in rows], rank=6),
        Column("first used", [row.first_used or NONE for row in rows], rank=8),
        Column("last used", [row.last_used or NONE for row in rows], rank=7),
    ]


_JOINTS_FORM = {"followed_years": "years", "implanted_date": "implanted", "hospital_id": "hospital"}
_JOINTS_NARROW = ("joint_id", "class", "age", "implanted_date", "followed_years", "ended", "reason")


def joints_columns(report: JointsReport) -> list[Column]:
    """Show a list of joints; on a narrow terminal, what says how they did."""
    cells = {name: [_shown(row[n], decimals=2) for row in report.rows] for n, name in enumerate(report.columns)}
    return [
        Column(
            _JOINTS_FORM.get(name, name).removesuffix("_id"),
            cells[name],
            left=name not in ("age", "followed_years"),
            rank=0 if name in _JOINTS_NARROW else place + 1,
            least=LABEL if name in ("reason", "action", "construct") else None,
        )
        for place, name in enumerate(report.columns)
    ]


def event_columns(events: Sequence[JointEvent]) -> list[Column]:
    """Show what happened to one joint; details stand under their event."""
    lines = [(event, detail) for event in events for detail in (event.details or ("",))]
    first = [n == 0 or lines[n - 1][0] is not event for n, (event, _) in enumerate(lines)]
    return [
        Column("date", [event.date if new else "" for new, (event, _) in zip(first, lines)], left=True),
        Column("day", [count(event.day) if new else "" for new, (event, _) in zip(first, lines)]),
        Column("what", [event.what if new else "" for new, (event, _) in zip(first, lines)], left=True, least=LABEL),
        Column("details", [detail for _, detail in lines], left=True, least=LABEL),
    ]


def listing_columns(listing: Listing) -> list[Column]:
    """Show any list; columns from the right are left out first."""
    columns = []
    for place, name in enumerate(listing.columns):
        values = [row[place] for row in listing.rows]
        if name.rpartition("_")[2] == "year":
            values = [value if value is None else str(value) for value in values]  # 2024, not 2,024
        numeric = any(isinstance(v, (int, float)) for v in values if v is not None)
        least = LABEL if name in listing.wraps else None
        columns.append(Column(name, list(map(_shown, values)), left=not numeric, rank=place, least=least))
    return columns


def _shown(value: Any, decimals: int | None = None) -> str:
    if value is None:
        return NONE
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int):
        return count(value)
    if isinstance(value, float):
        return f"{value:.6g}" if decimals is None else number(value, decimals)
    return str(value)
