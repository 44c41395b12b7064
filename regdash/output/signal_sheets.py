"""What people see of a screen: each unit over all of follow-up, the windows that are signals, and the thresholds."""

from collections.abc import Sequence

from regdash.output.sheets import Withheld, limits_heading
from regdash.output.table import Column
from regdash.output.wording import NONE, Limits, count, number, p_value, percent, so_many, with_limits
from regdash.reports.wording import fields
from regdash.signals.model import ALL, LOOK_CLOSER, ScreenReport, ScreenRow

SHOWN = 60  # rows on a page


def shown_rows(report: ScreenReport) -> tuple[ScreenRow, ...]:
    """The rows of a page: windows without a signal are left to --csv."""
    kept = [row for row in report.rows if row.window == ALL or row.signal == LOOK_CLOSER]
    return tuple(kept[:SHOWN])


def screen_columns(rows: Sequence[ScreenRow], kind: str, level: float, notes: Withheld) -> list[Column]:
    """Show what was screened, the most striking first."""
    new = [n == 0 or _unit(rows[n - 1]) != _unit(row) for n, row in enumerate(rows)]
    ratios: list[Limits] = [(row.hazard_ratio, row.lower, row.upper) for row in rows]
    why = [row.withheld if row.hazard_ratio is None else None for row in rows]
    return [
        Column(
            kind.removesuffix("s"), [row.code if first else "" for first, row in zip(new, rows)], left=True, least=14
        ),
        Column("role", [row.role if first else "" for first, row in zip(new, rows)], left=True, rank=2, least=8),
        Column("class", [row.joint_class if first else "" for first, row in zip(new, rows)], left=True, rank=1),
        Column("years", [row.window for row in rows], left=True),
        Column("joints", [count(row.joints) for row in rows], rank=3),
        Column("revised", [count(row.revisions) for row in rows]),
        Column("expected", [number(row.expected, 1) for row in rows], rank=5),
        Column("rate ratio", [number(row.rate_ratio) for row in rows], rank=7),
        Column(limits_heading("ratio", level), notes.mark(with_limits(ratios, 2), why), left=True),
        Column("p", [p_value(row.p) for row in rows], rank=6),
        Column("q", [p_value(row.q) for row in rows]),
        Column("shrunk", [number(row.shrunk_hazard_ratio) for row in rows], rank=4),
        Column("above, %", [percent(row.probability, 0) for row in rows], rank=8),
        Column("signal", [row.signal for row in rows], left=True),
    ]


def _unit(row: ScreenRow) -> tuple[str, str, str]:
    return row.code, row.role, row.joint_class


def screen_facts(report: ScreenReport) -> list[tuple[str, str]]:
    """Say what was asked of the screen, and by which settings."""
    settings = report.settings
    thresholds = (
        f"version {settings.version}, hash {settings.hash}: a ratio above {settings.stated_ratio:g}, "
        f"q up to {settings.q:g}"
    )
    tests = so_many(report.tests, "test")
    found = f"{report.signals:,} of {tests}, at most {report.expected_false:.2g} expected to be false"
    found = found if report.tests else "none: nothing was tested"
    adjusted = fields([grouping.field.key for grouping in report.adjust]) or NONE
    return [("adjusted", adjusted), ("settings", thresholds), ("signals", found)]


def what_is_shown(report: ScreenReport, rows: Sequence[ScreenRow]) -> str:
    """Say what the columns are, and what a page leaves out."""
    said = (
        f"Years since implantation. Ratio: hazard ratio against all others of the class and role. q: of a ratio up to "
        f"{report.settings.stated_ratio:g}, over all tests. Windows without a signal are left out (--csv has all)."
    )
    units = len({_unit(row) for row in report.rows})
    told = len({_unit(row) for row in rows})
    return said if told == units else f"{said} {told:,} of {units:,} {report.kind} are shown."
