"""What is known of one implant beside all others, as the dashboard lists it: reasons, and rates by time."""

from __future__ import annotations

from regdash.dashboard import wording
from regdash.dashboard.implant_panes import REVISED, Painted
from regdash.dashboard.widgets.grid import Column, Row
from regdash.reports.model import ImplantReport, RateRow, ReasonRow
from regdash.vocabulary import coded


def painted(name: str, report: ImplantReport) -> Painted:
    """Make the list of reasons, or that of windows."""
    return _reasons(report) if name == "reasons" else _windows(report)


def _reasons(report: ImplantReport) -> Painted:
    own, others = (group.label for group in report.reasons.groups)
    beside = {row.reason: row for row in report.reasons.rows if row.group == others}
    columns = (
        Column("reason", "reason", left=True),
        Column(f"{own} %", "incidence"),
        Column("95 % limits", left=True),
        Column("others %", "others"),
        Column("95 % limits", left=True),
        Column("ever", "revised"),  # over all follow-up
    )
    rows = [_reason_row(row, beside.get(row.reason)) for row in report.reasons.rows if row.group == own]
    return Painted(f"revised for each reason within {wording.years(report.reasons.years)}", columns, rows)


def _windows(report: ImplantReport) -> Painted:
    own, others = (group.label for group in report.risk.groups)
    beside = {row.group.removeprefix(f"{others}, "): row for row in report.windows}
    columns = (
        Column("years since", left=True),
        Column("joints"),
        Column("revised"),
        Column("per 100"),
        Column("95 % limits", left=True),
        Column("others"),
        Column("95 % limits", left=True),
    )
    found = [row for row in report.windows if row.group.startswith(f"{own}, ")]
    rows = [_window_row(row, row.group.removeprefix(f"{own}, "), beside) for row in found]
    return Painted("revisions per 100 implant-years by years since implantation", columns, rows)


def _reason_row(row: ReasonRow, other: ReasonRow | None) -> Row:
    def figures(one: ReasonRow | None) -> tuple[str, str]:
        if one is None:
            return "–", ""
        limits = one.withheld or wording.percent_limits(one.lower, one.upper, 2)
        return wording.percent(one.incidence, 2), limits

    return Row(
        (row.reason, *figures(row), *figures(other), wording.count(row.revisions)),
        (row.reason, (REVISED, f"reason={coded(row.reason)}")),
        (row.reason, row.incidence, None, other.incidence if other else None, None, row.revisions),
    )


def _window_row(row: RateRow, window: str, beside: dict[str, RateRow]) -> Row:
    other = beside[window]
    figures = [
        (wording.number(one.per_100_implant_years), one.withheld or wording.limits(one.lower, one.upper))
        for one in (row, other)
    ]
    return Row(
        (
            window.replace(" years", ""),
            wording.count(row.joints),
            wording.count(row.revisions),
            *figures[0],
            *figures[1],
        )
    )
