"""Small multiples: one scale for all panels, each with its own value, limits and joints at risk."""

import re

import pytest

from regdash import grouping
from regdash.charts.panels import panels_chart
from regdash.charts.step import reading
from regdash.cohort import Cohort
from tests.dashboard.fake_desk import FakeDesk

YEARS = (1.0, 5.0, 10.0, 15.0)


@pytest.fixture(scope="module")
def report():
    return FakeDesk().risk(Cohort(), grouping.parse("class"), YEARS)


def test_panels_share_their_scales_and_each_says_its_value_with_limits(report):
    drawn = panels_chart(report, 100, 14).plain.split("\n")
    values = {row.group: row for row in report.rows if row.years == 15.0}
    for letter, group in (("a", "total"), ("b", "partial")):
        row = values[group]
        said = f"{letter} {group} {100 * row.estimate:.1f} ({100 * row.lower:.1f} to {100 * row.upper:.1f})"
        assert said in drawn[0]
    halves = [[line[:50] for line in drawn], [line[50:] for line in drawn]]
    scales = [[match[1] for line in half if (match := re.match(r"\s*(\d+)┤", line))] for half in halves]
    assert scales[0] == scales[1]
    assert float(scales[0][0]) >= 18.6, "the scale holds the largest curve"
    axes = [next(line for line in half if "└" in line).rstrip() for half in halves]
    assert axes[0] == axes[1]


def test_each_panel_has_its_joints_at_risk_under_its_axis(report):
    last = panels_chart(report, 100, 14).plain.rstrip("\n ").split("\n")[-1].split()
    for curve in report.curves:
        counts = dict(curve.at_risk)
        for years in (0.0, 5.0, 10.0, 15.0):
            assert f"{counts[years]:,}" in last


def test_a_line_stands_in_every_panel_and_headings_give_the_values_there(report):
    drawn = panels_chart(report, 100, 14, None, 5.0).plain
    assert drawn.count("▲") == 2
    for curve in report.curves:
        assert f"{curve.group} {100 * reading(curve, 5.0)[0]:.1f} (" in drawn


def test_a_panel_that_finds_no_room_is_told_of_and_comes_when_it_is_in_focus():
    many = FakeDesk().risk(Cohort(), grouping.parse("hospital"), YEARS)
    groups = [curve.group for curve in many.curves]
    assert len(groups) > 8
    drawn = panels_chart(many, 80, 9).plain
    assert "+6 more" in drawn, "of the eight that have letters"
    assert groups[3] not in drawn
    assert f"d {groups[3]}" in panels_chart(many, 80, 9, groups[3]).plain
    assert all(group in panels_chart(many, 160, 24).plain for group in groups[:8])


@pytest.mark.parametrize("size", [(20, 5), (39, 30), (40, 8), (79, 17), (240, 70)])
def test_any_size_is_filled_exactly(report, size: tuple[int, int]):
    drawn = panels_chart(report, *size, "partial").plain.split("\n")
    assert [len(line) for line in drawn] == [size[0]] * size[1]
