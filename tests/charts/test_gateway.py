"""Whatever reaches the gateway, what comes back has the size that was asked for."""

import math

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from regdash.charts.gateway import FINE, Stroke, draw, stairs
from regdash.charts.scale import Axis, percent_axis, year_axis

ANY_NUMBER = st.one_of(
    st.floats(allow_nan=True, allow_infinity=True), st.sampled_from([1e300, -1e300, 1e9, math.nan, math.inf, -math.inf])
)
POINTS = st.lists(st.tuples(ANY_NUMBER, ANY_NUMBER), max_size=30)
SIZES = st.tuples(st.integers(0, 120), st.integers(0, 40))
X, Y = year_axis(15, 60), percent_axis(0.2, 10)


@settings(max_examples=60)
@given(points=POINTS, joined=st.booleans(), size=SIZES)
def test_any_values_give_lines_of_the_asked_size(points, joined, size):
    width, height = size
    stroke = Stroke([x for x, _ in points], [y for _, y in points], FINE, "cyan", joined)
    drawing = draw([stroke], X, Y, width, height)
    assert len(drawing.lines) == height
    assert {line.cell_len for line in drawing.lines} <= {width}


@settings(max_examples=60)
@given(
    steps=st.lists(st.tuples(st.floats(0, 1e6), ANY_NUMBER), max_size=50),
    columns=st.integers(1, 200),
    last=ANY_NUMBER,
)
def test_a_step_curve_is_thinned_to_two_finite_points_a_column(steps, columns, last):
    steps = sorted(steps, key=lambda step: step[0])
    x, y = stairs(np.array([s[0] for s in steps]), np.array([s[1] for s in steps]), X, columns, last)
    assert len(x) == len(y) <= 2 * columns
    assert all(map(math.isfinite, y))
    assert x == sorted(x)


def test_a_step_holds_its_value_until_the_next():
    x, y = stairs(np.array([0.0, 5.0]), np.array([0.1, 0.2]), Axis(0, 10, ()), 50)
    assert {value for place, value in zip(x, y) if place < 5} == {0.1}
    assert {value for place, value in zip(x, y) if place > 5} == {0.2}


def test_nothing_is_drawn_after_the_last_day_that_may_be_drawn():
    x, _ = stairs(np.array([0.0, 5.0]), np.array([0.1, 0.2]), Axis(0, 10, ()), 50, last=7)
    assert max(x) <= 7


def test_values_beyond_the_axis_are_drawn_on_its_edge():
    drawing = draw([Stroke([7.5], [9e99], "o", joined=False)], X, Y, 60, 12)
    assert "o" in drawing.lines[0].plain


def test_the_axes_are_there_when_nothing_is_to_be_drawn():
    text = "\n".join(line.plain for line in draw([], X, Y, 60, 12).lines)
    for label in ("0", "3", "15", "20"):
        assert label in text


def test_a_drawing_says_where_its_ticks_are():
    drawing = draw([], X, Y, 70, 12)
    axis = drawing.lines[drawing.canvas_lines].plain
    for place, _ in X.ticks:
        assert axis[drawing.column(place, X)] == "┬"


def test_one_figure_does_not_show_through_another():
    first = draw([Stroke([1, 14], [0.1, 0.1], "o")], X, Y, 60, 12)
    draw([Stroke([1, 14], [0.05, 0.15], "w")], X, Y, 60, 12)
    assert draw([Stroke([1, 14], [0.1, 0.1], "o")], X, Y, 60, 12).lines == first.lines
