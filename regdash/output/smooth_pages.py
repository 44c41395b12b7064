"""A curve along a field of numbers as a page and in the form that programs get; importing it makes it known to both."""

from regdash.output.comparison_sheets import tested_columns
from regdash.output.people import Lines, closing, level_of, opening, page, tabled
from regdash.output.record import Record, columns_of, head_facts, record_of, row_of
from regdash.output.sheets import Withheld, limits_heading
from regdash.output.table import Column, labelled
from regdash.output.wording import NONE, Limits, count, with_limits
from regdash.reports.smooth_model import SmoothReport, SmoothRow
from regdash.reports.wording import fields

REFERENCE = "1, the reference"


@record_of.register
def _(report: SmoothReport) -> Record:
    curve = report.curve
    points = zip(*(array.tolist() for array in (curve.values, curve.ratio, curve.lower, curve.upper)))
    more = {
        "tests": [row_of(test) for test in report.tests],
        "over": report.over.field.key,
        "scale": report.over.scale,
        "reference": report.reference,
        "reference_is_median": not report.named,
        "knots": list(report.knots),
        "knot_percentiles": [round(100 * share, 2) for share in report.knot_percentiles],
        "shown_from": report.low,
        "shown_to": report.high,
        "adjust": ",".join(map(str, report.adjust)),
        "model": report.model,
        "modelled_joints": report.modelled,
        "left_out": [row_of(left) for left in report.left_out],
        "robust": report.robust,
        "clusters": report.clusters,
        "curve": [dict(zip(("value", "hazard_ratio", "lower", "upper"), point)) for point in points],
    }
    return Record(head_facts(report.head), columns_of(SmoothRow), [row_of(row) for row in report.rows], more)


@page.register
def _(report: SmoothReport, width: int) -> Lines:
    notes, level = Withheld(), level_of(report.head)
    lines = [*opening(report.head, width, _facts(report)), *tabled(smooth_columns(report, level, notes), width)]
    lines += ["", *tabled(tested_columns(report.tests, notes), width), "", *labelled([("model", report.model)], width)]
    return [*lines, *closing(report.head.method, report.head.cautions, width, notes)]


def _facts(report: SmoothReport) -> list[tuple[str, str]]:
    adjusted = fields([grouping.field.key for grouping in report.adjust]) or NONE
    against = f"{report.reference:g}" if report.named else f"{report.reference:g}, the median"
    return [
        (report.over.field.key, report.over.field.about),
        ("against", against),
        ("knots", knots_said(report)),
        ("adjusted", adjusted),
    ]


def knots_said(report: SmoothReport) -> str:
    """Say where the knots stand: "1, 8 and 17 (percentiles 10, 50 and 90)"."""
    at = fields([f"{knot:g}" for knot in report.knots])
    return f"{at} (percentiles {fields([f'{100 * share:g}' for share in report.knot_percentiles])})"


def smooth_columns(report: SmoothReport, level: float, notes: Withheld) -> list[Column]:
    """Show the ratio at values, and the joints from each up to the next."""
    rows = report.rows
    figures: list[Limits] = [(row.hazard_ratio, row.lower, row.upper) for row in rows]
    why = [row.withheld if row.hazard_ratio is None else None for row in rows]
    ratios = [
        REFERENCE if row.value == report.reference and row.hazard_ratio is not None else text
        for row, text in zip(rows, with_limits(figures, 2))
    ]
    beside = [row.withheld if row.joints is None else None for row in rows]
    return [
        Column(f"at {report.over.field.key}", [NONE if row.value is None else f"{row.value:g}" for row in rows]),
        Column(limits_heading("hazard ratio", level), notes.mark(ratios, why), left=True),
        Column("counted", [row.counted for row in rows], left=True, rank=1),
        Column("joints", notes.mark([count(row.joints) for row in rows], beside)),
        Column("revised", notes.mark([count(row.revisions) for row in rows], beside)),
    ]
