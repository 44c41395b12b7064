"""A curve along a field of numbers keeps to its room, whatever its ends and limits."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from regdash.charts.ascii_signs import in_ascii
from regdash.charts.curve import smooth_chart
from regdash.cohort import Cohort
from regdash.reports.smooth_model import SmoothCurve, SmoothReport
from tests.dashboard.fake_desk import FakeDesk


def report(over: str = "volume") -> SmoothReport:
    return FakeDesk().smooth(Cohort(), over, ())


@settings(max_examples=25, deadline=None)
@given(width=st.integers(10, 160), height=st.integers(2, 40), ratio=st.floats(0.001, 1000), wide=st.floats(1, 1e6))
def test_any_curve_fills_its_room_exactly(width, height, ratio, wide):
    one = report()
    steep = ratio ** np.linspace(-1, 1, len(one.curve.values))
    curve = SmoothCurve(one.curve.values, steep, steep / wide, np.where(steep * wide > 1e8, np.nan, steep * wide))
    lines = smooth_chart(replace(one, curve=curve), width, height, at=10.0).plain.split("\n")
    assert [len(line) for line in lines] == [width] * height


def test_a_volume_has_its_places_by_ratios_and_an_age_by_differences():
    def places(over: str) -> list[int]:
        axis = smooth_chart(report(over), 100, 20).plain.split("\n")[-1]
        return [axis.index(label) for label in (" 2 ", " 5 ", " 10 ", " 20")]

    two, five, ten, twenty = places("age")
    assert (ten - five) / (five - two) == pytest.approx(5 / 3, rel=0.1)
    assert (twenty - ten) / (ten - five) == pytest.approx(2, rel=0.1)
    two, five, ten, twenty = places("volume")
    assert (ten - five) / (five - two) == pytest.approx(np.log(11 / 6) / np.log(6 / 3), rel=0.15)


def test_a_curve_that_is_withheld_is_blank_and_all_signs_have_stand_ins():
    empty = replace(report(), curve=SmoothCurve(*[np.array([])] * 4))
    assert not smooth_chart(empty, 80, 12).plain.strip()
    assert in_ascii(smooth_chart(report(), 80, 12, at=5.0).plain.split("\n")[3]).isascii()
