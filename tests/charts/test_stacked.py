"""Reasons one on the other: each layer is as high as its incidence, and the top is that of all reasons together."""

import numpy as np
import pytest

from regdash import grouping
from regdash.charts.ascii_signs import in_ascii
from regdash.charts.stacked import stacked_chart
from regdash.charts.step import reading, reasons_chart
from regdash.cohort import Cohort
from tests.dashboard.fake_desk import FakeDesk

LETTERS = "abcd"


@pytest.fixture(scope="module")
def report():
    return FakeDesk().reasons(Cohort(), grouping.parse("class"), 15.0)


def column_of(drawn: list[str], at: int) -> str:
    return "".join(line[at] for line in drawn if line[at] in LETTERS)


@pytest.mark.parametrize("height", [14, 30, 62])
def test_layers_are_as_high_as_incidences_and_their_top_is_that_of_all_reasons(report, height: int):
    drawn = stacked_chart(report, "total", 120, height).plain.split("\n")
    axis = next(n for n, line in enumerate(drawn) if line.lstrip().startswith("└"))
    ticks = [n for n, sign in enumerate(drawn[axis]) if sign == "┬"]
    top = float(drawn[0].split("┤")[0])
    (curves,) = (curves for name, curves in report.curves if name == "total")
    for column, years in zip(ticks[1:], (3, 6, 9, 12, 15)):
        layers = column_of(drawn[:axis], column)
        shares = [100 * reading(curve, years)[0] / top * (axis - 1) for curve in curves]
        # Reasons compete, so that their cumulative incidences add up to that of revision for any (Aalen & Johansen).
        assert abs(len(layers) - sum(shares)) <= 1
        for letter, share in zip(LETTERS, shares):
            assert abs(layers.count(letter) - share) <= 1
        assert layers == "".join(sorted(layers, reverse=True)), "the commonest lies at the bottom"


def test_every_layer_has_its_letter_name_and_value_and_joints_at_risk_stand_below(report):
    drawn = in_ascii(stacked_chart(report, "total", 100, 24).plain)
    (curves,) = (curves for name, curves in report.curves if name == "total")
    for letter, curve in zip(LETTERS, curves):
        assert f"{letter} {curve.group} {100 * reading(curve, 15.0)[0]:.1f}" in drawn
        assert letter * 3 in drawn
    assert "joints at risk" in drawn


@pytest.mark.parametrize("chart", [reasons_chart, stacked_chart])
def test_names_give_the_values_where_the_line_stands(report, chart):
    (curves,) = (curves for name, curves in report.curves if name == "partial")
    drawn = chart(report, "partial", 110, 30, None, 7.0).plain
    assert "▲" in drawn
    for curve in curves:
        there = curve.estimate[np.searchsorted(curve.days, 7 * 365.25, side="right") - 1]
        assert f"{curve.group} {100 * there:.1f} at 7 y" in drawn


def test_past_the_end_of_a_curve_nothing_is_read(report):
    (curves,) = (curves for name, curves in report.curves if name == "total")
    assert reading(curves[0], 60.0) is None
    assert reading(curves[0], 0.0) == (0.0, 0.0, 0.0)


@pytest.mark.parametrize("size", [(20, 5), (39, 30), (120, 5), (240, 70)])
def test_any_size_is_filled_exactly(report, size: tuple[int, int]):
    drawn = stacked_chart(report, "partial", *size).plain.split("\n")
    assert [len(line) for line in drawn] == [size[0]] * size[1]
    assert stacked_chart(report, "nobody", *size).plain.strip() == ""
