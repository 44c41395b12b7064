"""
What is drawn is what plotext 5.3 draws, a general library for charts on a terminal: sign by sign, in the same colours.
"""

import math

import plotext
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from rich.text import Text

from regdash.charts.gateway import AXIS_LINES, COLOURS, FINE, Stroke, draw
from regdash.charts.scale import Axis, percent_axis, year_axis


def by_plotext(strokes: list[Stroke], x_axis: Axis, y_axis: Axis, width: int, height: int) -> list[Text]:
    plotext.clear_figure()
    plotext.theme("clear")
    plotext.limit_size(False, False)
    plotext.plotsize(width, height)
    plotext.xaxes(True, False)
    plotext.yaxes(True, False)
    for axis, limit, ticks in ((x_axis, plotext.xlim, plotext.xticks), (y_axis, plotext.ylim, plotext.yticks)):
        limit(axis.low, axis.high)
        ticks([place for place, _ in axis.ticks], [label for _, label in axis.ticks])
    # A blank point in the corner: without any point plotext leaves the axes out.
    for stroke in (Stroke([x_axis.low], [y_axis.low], " ", joined=False), *strokes):
        put = plotext.plot if stroke.joined else plotext.scatter
        put(list(stroke.x), list(stroke.y), marker=stroke.marker, color=COLOURS.get(stroke.colour, "default"))
    return list(Text.from_ansi(plotext.build()).split("\n", allow_blank=True))[:height]


def cells(lines: list[Text] | tuple[Text, ...]) -> list[list[tuple[str, object]]]:
    """Each sign with its colour; what is blank has none."""
    rows = []
    for line in lines:
        colours: list[object] = [None] * len(line)
        for span in line.spans:
            colours[span.start : span.end] = [getattr(span.style, "color", None)] * (span.end - span.start)
        rows.append([(sign, None if sign == " " else colour) for sign, colour in zip(line.plain, colours)])
    return rows


# Places off the halves between two columns or lines, where one bit of the arithmetic decides.
SHARES = st.integers(1, 9973).map(lambda n: n / math.pi / 3175)
POINTS = st.lists(st.tuples(SHARES, SHARES), min_size=1, max_size=40)
STROKES = st.lists(
    st.tuples(POINTS, st.sampled_from([FINE, "·", "a", "█"]), st.sampled_from([*COLOURS, "default"]), st.booleans()),
    max_size=5,
)


@settings(max_examples=25, deadline=None)
@given(
    drawn=STROKES,
    width=st.integers(24, 160),
    height=st.integers(8, 50),
    horizon=st.sampled_from([0.5, 2, 5, 15, 20, 60]),
    top=st.floats(0.001, 1),
)
def test_every_sign_and_colour_is_that_of_plotext(drawn, width, height, horizon, top):
    x_axis, y_axis = year_axis(horizon, width), percent_axis(top, height - AXIS_LINES)
    strokes = [
        Stroke([x * horizon for x, _ in points], [y * y_axis.high for _, y in points], marker, colour, joined)
        for points, marker, colour, joined in drawn
    ]
    ours, theirs = (way(strokes, x_axis, y_axis, width, height) for way in (draw, by_plotext))
    assert cells(ours.lines) == cells(theirs)


@pytest.mark.parametrize("places", [(0.0, 15.0), (7.5,), (15.0, 0.0)])
def test_the_ends_and_the_middle_of_an_axis_too(places):
    x_axis, y_axis = year_axis(15, 60), percent_axis(0.2, 10)
    strokes = [Stroke(places, [y_axis.high * x / 15 for x in places], FINE, "cyan")]
    assert cells(draw(strokes, x_axis, y_axis, 61, 13).lines) == cells(by_plotext(strokes, x_axis, y_axis, 61, 13))
