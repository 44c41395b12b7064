"""Columns for people where groups are compared: ratios, tests, gaps and differences."""

from collections.abc import Sequence

from regdash.output.sheets import LABEL, Withheld, groups_column, limits_heading, once
from regdash.output.table import Column
from regdash.output.wording import NONE, Limits, number, p_value, percent, window, with_limits, years
from regdash.reports.missing_row import Missing
from regdash.reports.model import (
    CeilingRow,
    CompareRow,
    DifferenceRow,
    GapReport,
    GapRow,
    MarginRow,
    ShareRow,
    TestRow,
)

ASKS = 24  # the width down to which a test's question may be wrapped


def compare_columns(rows: Sequence[CompareRow], level: float, notes: Withheld) -> list[Column]:
    """Show hazard ratios by group and window."""
    figures: list[Limits] = [(row.hazard_ratio, row.lower, row.upper) for row in rows]
    why = [row.withheld for row in rows]
    return [
        groups_column(rows),
        Column("against", once([row.reference for row in rows]), left=True, rank=1, least=LABEL),
        Column("since implantation", [window(row.from_years, row.to_years) for row in rows], left=True),
        Column(limits_heading("hazard ratio", level), notes.mark(with_limits(figures, 2), why), left=True),
        Column("p", [p_value(row.p) for row in rows]),
    ]


def tested_columns(rows: Sequence[TestRow], notes: Withheld) -> list[Column]:
    """Show tests, and what each asks."""
    return [
        Column("test", [row.test for row in rows], left=True, least=LABEL),
        Column("asks", [row.asks for row in rows], left=True, least=ASKS),
        Column("chi-square", notes.mark([number(row.statistic) for row in rows], [row.withheld for row in rows])),
        Column("df", [NONE if row.df is None else str(row.df) for row in rows]),
        Column("p", [p_value(row.p) for row in rows]),
    ]


def gap_columns(report: GapReport, level: float, notes: Withheld) -> list[Column]:
    """Show what each reason adds to a gap; shares come last, since they shift with follow-up."""
    rows = report.rows
    figures: list[Limits] = [(row.difference, row.lower, row.upper) for row in rows]
    shares = {share.reason: share for share in report.shares}
    why = [row.withheld if row.difference is None else None for row in rows]
    return [
        Column("reason", [row.reason for row in rows], left=True, least=LABEL),
        *(
            Column(f"{group.label}, %", [percent(getattr(row, name), 2) for row in rows])
            for group, name in zip(report.groups, ("group_a", "group_b"))
        ),
        Column(limits_heading("difference", level), notes.mark(with_limits(figures, 2, 100), why), left=True),
        Column("share, %", notes.mark(_shares(rows, shares), [row.withheld for row in rows]), left=True),
    ]


def _shares(rows: Sequence[GapRow], shares: dict[str, ShareRow]) -> list[str]:
    """Write shares with their limits; all reasons together have none."""
    figures: list[Limits] = [
        (row.share, *((shares[row.reason].lower, shares[row.reason].upper) if row.reason in shares else (None, None)))
        for row in rows
    ]
    written = with_limits(figures, 0, 100)
    return [text if row.reason in shares else text.partition(" (")[0] for row, text in zip(rows, written)]


def difference_columns(rows: Sequence[DifferenceRow], level: float, notes: Withheld) -> list[Column]:
    """Show each group's risk less that of the reference."""
    figures: list[Limits] = [(row.difference, row.lower, row.upper) for row in rows]
    return [
        groups_column(rows),
        Column("less", once([row.reference for row in rows]), left=True, least=LABEL),
        Column("years", [years(row.years) for row in rows]),
        Column(
            limits_heading("difference, points", level),
            notes.mark(with_limits(figures, 1, 100), [row.withheld for row in rows]),
            left=True,
        ),
    ]


def ceiling_columns(rows: Sequence[CeilingRow]) -> list[Column]:
    """Show whether each risk is below the ceiling."""
    return [
        groups_column(rows),
        Column("years", [years(row.years) for row in rows]),
        Column("ceiling, %", [f"{100 * row.ceiling:g}" for row in rows]),
        *_verdict_columns(rows),
    ]


def missing_columns(missing: Missing, notes: Withheld) -> list[Column]:
    """Show each risk as it is and as if a share of revisions were missing."""
    rows, why = missing.rows, [row.withheld for row in missing.rows]
    plain = [percent(row.estimate) for row in rows]
    other = [percent(row.if_missing) for row in rows]
    return [
        groups_column(rows),
        Column("years", [years(row.years) for row in rows]),
        Column("risk, %", notes.mark(plain, why)),
        Column(f"if {100 * missing.share:g} % are missing, %", notes.mark(other, why)),
    ]


def margin_columns(rows: Sequence[MarginRow], level: float) -> list[Column]:
    """Show whether each risk is below that of the reference with the margin on it."""
    figures: list[Limits] = [(row.excess, row.lower, row.upper) for row in rows]
    return [
        groups_column(rows),
        Column("years", [years(row.years) for row in rows]),
        Column(limits_heading("excess", level), with_limits(figures, 1, 100), left=True),
        *_verdict_columns(rows),
    ]


def _verdict_columns(rows: Sequence[CeilingRow] | Sequence[MarginRow]) -> list[Column]:
    return [
        Column("verdict", [row.verdict for row in rows], left=True),
        Column("why", [row.why for row in rows], left=True, least=LABEL),
    ]
