"""Risk curves must be readable without colour, at any size, whatever is missing."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from regdash import grouping
from regdash.charts.step import LETTERS, in_view, letter_of, reasons_chart, risk_chart, step_chart
from regdash.cohort import Cohort
from tests.dashboard.fake_desk import FakeDesk

YEARS = (1.0, 5.0, 10.0, 15.0)


def report(by: str = "class", years: tuple[float, ...] = YEARS):
    return FakeDesk().risk(Cohort(), grouping.parse(by), years)


def lines(text) -> list[str]:
    return text.plain.split("\n")


def test_each_curve_has_its_letter_along_it_and_its_name_and_value_at_its_end():
    drawn = lines(risk_chart(report(), 80, 14))
    for letter, end in (("a", "a total 5.5"), ("b", "b partial 18.6")):
        assert sum(end in line for line in drawn) == 1
        assert sum(line[:60].count(letter) for line in drawn) >= 2


def test_the_numbers_at_risk_stand_under_their_years():
    drawn = lines(risk_chart(report(), 80, 14))
    axis = next(line for line in drawn if line.lstrip().startswith("└"))
    counts = next(line for line in drawn if line.endswith("a total".ljust(80 - line.find("a total"))))
    ticks = [column for column, sign in enumerate(axis) if sign == "┬"]
    assert counts.split("a total")[0].split() == ["88,120", "56,049", "35,650", "22,675", "14,423", "9,173"]
    for column in ticks[1:]:
        assert counts[column - 1 : column + 2].strip(), column


def test_a_year_without_a_count_stays_blank_and_none_are_left_after_the_last():
    whole = report(years=(1.0, 2.0))
    ended = replace(
        whole, years=(15.0,), rows=(), curves=tuple(replace(c, at_risk=c.at_risk[:8]) for c in whole.curves)
    )
    counts = next(line for line in lines(risk_chart(ended, 80, 14)) if " a total" in line and "56,049" in line)
    assert counts.split()[:6] == ["88,120", "56,049", "35,650", "0", "0", "0"]
    gaps = replace(ended, curves=tuple(replace(c, at_risk=(c.at_risk[0], c.at_risk[6])) for c in whole.curves))
    counts = next(line for line in lines(risk_chart(gaps, 80, 14)) if " a total" in line and "88,120" in line)
    assert counts.split()[:3] == ["88,120", "35,650", "0"]


def test_a_limit_beyond_the_axis_is_not_drawn_on_its_edge():
    whole = report()
    wide = tuple(replace(curve, upper=curve.upper * 0 + 0.9) for curve in whole.curves)
    assert "·" not in lines(risk_chart(replace(whole, curves=wide), 80, 14))[0]


def test_a_curve_that_ends_early_says_how_far_it_goes():
    whole = report("age")
    drawn = lines(risk_chart(whole, 100, 20))
    assert any("e age 80..: too few" in line for line in drawn)  # 39 joints: none of it may be drawn
    cut_off = replace(whole.curves[0], last_day=int(8.2 * 365.25))
    drawn = lines(risk_chart(replace(whole, curves=(cut_off, *whole.curves[1:])), 100, 20))
    assert any("at 8.2 y" in line for line in drawn)


def test_names_of_curves_that_end_together_stand_on_lines_of_their_own():
    alike = report()
    twin = replace(alike.curves[0], group="twin")
    drawn = lines(risk_chart(replace(alike, curves=(alike.curves[0], twin)), 80, 14))
    assert sum("a total 5.5" in line for line in drawn) == 1
    assert sum("b twin 5.5" in line for line in drawn) == 1


def test_limits_are_drawn_for_the_curve_in_focus_where_there_are_many():
    many = report("hospital")
    without = risk_chart(many, 100, 24).plain.count("·")
    assert without == 0
    assert risk_chart(many, 100, 24, focus="hospital 2").plain.count("·") > 10


def test_many_groups_are_shown_by_the_page_that_the_focus_is_on():
    names = [curve.group for curve in report("hospital").curves]
    assert list(in_view(names, None)) == list(range(8))
    assert list(in_view(names, "hospital 20")) == list(range(16, 24))
    assert letter_of(names, "hospital 20", "hospital 20") == LETTERS[3]
    assert letter_of(names, "hospital 20", "hospital 1") == " "


def test_a_reading_line_stands_at_its_year():
    drawn = lines(risk_chart(report(years=(5.0, 10.0, 15.0)), 80, 14, at=10.0))
    axis = next(line for line in drawn if line.lstrip().startswith("└"))
    labels = drawn[drawn.index(axis) + 1]
    assert axis.count("▲") == 1
    assert sum("┊" in line for line in drawn) >= 3
    assert labels.index("9") < axis.index("▲") < labels.index("12")


def test_a_chart_without_colour_says_the_same():
    text = risk_chart(report(), 80, 14)
    assert text.plain == risk_chart(report(), 80, 14).plain
    assert {"a total 5.5", "b partial 18.6"} <= {line[-18:].strip() for line in lines(text)} | {
        line[line.find(" a ") + 1 :].strip() for line in lines(text)
    } | {line[line.find(" b ") + 1 :].strip() for line in lines(text)}


@settings(max_examples=40)
@given(
    width=st.integers(1, 220),
    height=st.integers(1, 60),
    spoiled=st.sampled_from([np.nan, np.inf, -np.inf, 1e300, 0.0]),
    places=st.sets(st.integers(0, 40), max_size=10),
    by=st.sampled_from(["class", "age", "hospital", ""]),
)
def test_any_size_and_any_hole_gives_lines_of_the_asked_size(width, height, spoiled, places, by):
    whole = report(by)
    curves = []
    for curve in whole.curves:
        values = [curve.estimate.copy(), curve.lower.copy(), curve.upper.copy()]
        for array in values:
            array[[place for place in places if place < len(array)]] = spoiled
        curves.append(replace(curve, estimate=values[0], lower=values[1], upper=values[2]))
    drawn = lines(risk_chart(replace(whole, curves=tuple(curves)), width, height))
    assert len(drawn) == height
    assert {len(line) for line in drawn} == {width}


@pytest.mark.parametrize("empty", [(), "no days"])
def test_nothing_to_draw_leaves_the_axes(empty):
    whole = report()
    curves = (
        ()
        if empty == ()
        else tuple(
            replace(c, days=c.days[:0], estimate=c.estimate[:0], lower=c.lower[:0], upper=c.upper[:0], last_day=0)
            for c in whole.curves
        )
    )
    drawn = risk_chart(replace(whole, curves=curves), 80, 14).plain
    assert "years" in drawn
    assert "┬" in drawn


def test_reasons_through_time_are_drawn_for_one_group_over_one_line_of_counts():
    asked = FakeDesk().reasons(Cohort(), grouping.parse("class"), 15.0)
    drawn = lines(reasons_chart(asked, "partial", 100, 20))
    assert any("a progression of disease" in line for line in drawn)
    assert sum(line.startswith("joints at risk") for line in drawn) == 1


def test_a_long_name_is_cut_before_its_value_and_how_far_the_curve_goes():
    """At 80 columns a third of the room is for names: the value and its time are told whole."""
    whole = report()
    name = "cemented, cruciate-retaining, patella resurfaced"
    curves = (replace(whole.curves[0], group=name, last_day=4565), *whole.curves[1:])
    said = next(line for line in lines(risk_chart(replace(whole, curves=curves), 80, 14)) if " a cemen" in line)
    assert said.rstrip().endswith("… 4.6 at 12.5 y")
    narrow = next(line for line in lines(risk_chart(replace(whole, curves=curves), 52, 14)) if " a cem" in line)
    assert narrow.rstrip().endswith("… 4.6")


def test_a_long_name_under_the_axis_ends_in_a_sign_that_it_is_cut():
    whole = report()
    name = "cemented, cruciate-retaining, patella resurfaced"
    first = replace(whole.curves[0], group=name, at_risk=((0.0, 800),))
    drawn = lines(risk_chart(replace(whole, curves=(first, *whole.curves[1:])), 80, 14))
    at_risk = drawn.index("joints at risk".ljust(80))
    assert drawn[at_risk + 1].split()[0] == "800"
    assert drawn[at_risk + 1].endswith("…")


def test_names_beyond_the_lines_of_a_chart_are_counted_and_none_is_lost_silently():
    """Eight curves over six lines: seven names, the axis's line among them, and one that is counted."""
    first = report().curves[0]
    curves = tuple(replace(first, group=f"group {n}", estimate=first.estimate * n) for n in range(1, 9))
    drawn = lines(step_chart(curves, 15.0, 80, 8, {}))
    assert [line.rstrip()[-len("x group 1 11.1") :].split()[0] for line in drawn[1:6]] == list("fedcb")
    assert drawn[0].rstrip().endswith(" g… 38.8 +1 more")
    assert drawn[6].rstrip().endswith(" a group 1 5.5")
    roomy = lines(step_chart(curves, 15.0, 80, 11, {}))
    assert sum("group" in line for line in roomy) == 8
    assert not any("more" in line for line in roomy)
