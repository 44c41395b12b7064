"""Figures say what their reports say: places are worked out again here from the axis labels that are drawn."""

import re
from xml.etree import ElementTree as ET

import numpy as np
import pytest

from regdash.figures.columns import column_figure
from regdash.figures.drawing import WIDTH, Picture, as_svg
from regdash.figures.intervals import BARS, RATIOS, Interval, interval_figure
from regdash.figures.step import step_figure
from regdash.reports.model import Curve

SVG = "{http://www.w3.org/2000/svg}"


def texts(picture: Picture) -> dict[str, tuple[float, float]]:
    """Where each text is written; the last of several alike."""
    return {str(m.text): (float(m.get("x", 0)), float(m.get("y", 0))) for m in picture.marks if m.tag == "text"}


def points(mark: ET.Element) -> list[tuple[float, float]]:
    found = re.findall(r"[ML]([\d.-]+) ([\d.-]+)", mark.get("d", ""))
    return [(float(x), float(y)) for x, y in found]


def of_kind(picture: Picture, kind: str) -> list[ET.Element]:
    return [mark for mark in picture.marks if mark.get("class") == kind]


def curve(
    group: str, days: list[int], risk: list[float], last: int, at_risk: tuple[tuple[float, int], ...] = ()
) -> Curve:
    risks = np.array(risk)
    return Curve(group, np.array(days), risks, risks * 0.8, risks * 1.2, last, at_risk)


TOTAL = curve("total", [0, 365, 2922], [0.0, 0.02, 0.10], 4383, ((0.0, 1000), (3.0, 800), (9.0, 41)))
PARTIAL = curve("partial", [0, 731], [0.0, 0.05], 1461, ((0.0, 200), (3.0, 90)))


def test_a_curve_steps_at_its_days_to_its_risks_and_ends_where_it_must() -> None:
    picture = step_figure([TOTAL, PARTIAL], 9)
    place = texts(picture)  # years are 0, 3, 6 and 9, per cent 0, 5, 10 and 15
    left, bottom = place["0"][0], 0.5 * (3 * place["5"][1] - place["15"][1]) - 4.5
    year, per_cent = (place["9"][0] - place["3"][0]) / 6, (place["5"][1] - place["10"][1]) / 5
    (path,), (other,) = of_kind(picture, "s0"), of_kind(picture, "s1")
    wanted = [(0, 0), (365 / 365.25, 0), (365 / 365.25, 2), (8, 2), (8, 10), (9, 10)]
    flat = [number for years, risk in wanted for number in (left + years * year, bottom - risk * per_cent)]
    assert [number for point in points(path) for number in point] == pytest.approx(flat, abs=0.02)
    assert points(other)[-1][0] == pytest.approx(left + 1461 / 365.25 * year, abs=0.02)


def test_joints_at_risk_stand_under_the_years_they_are_of() -> None:
    place = texts(step_figure([TOTAL, PARTIAL], 9))
    assert place["1,000"][0] == place["200"][0] == 56
    assert place["800"][0] == place["90"][0] == pytest.approx(place["3"][0])
    assert place["41"][0] == pytest.approx(place["9"][0])
    assert place["90"][1] > place["800"][1] > place["joints at risk"][1]


def test_an_empty_curve_is_left_out_and_no_curve_at_all_can_be_drawn() -> None:
    empty = Curve("few", np.zeros(0, dtype=int), np.zeros(0), np.zeros(0), np.zeros(0), 0, ((0.0, 35),))
    picture = step_figure([empty, PARTIAL], 5)
    assert "few" not in texts(picture)
    assert of_kind(picture, "s0")
    assert not of_kind(picture, "s1")
    assert not of_kind(step_figure([], 5), "s0")


def test_bars_and_limits_end_at_their_figures() -> None:
    rows = [Interval("infection", 0, 0.02, 0.01, 0.03, "2.0"), Interval("wear", 0, None, None, None, "withheld")]
    picture = interval_figure(rows, ["total"], "%", BARS, 100)
    place = texts(picture)
    per_cent = place["1"][0] - place["0"][0]
    (bar,) = of_kind(picture, "a0")
    assert float(bar.get("width", 0)) == pytest.approx(2 * per_cent, abs=0.05)
    limits = next(m for m in of_kind(picture, "w0") if m.get("y1") == m.get("y2"))
    ends = [float(limits.get(name, 0)) for name in ("x1", "x2")]
    assert ends == pytest.approx([place["1"][0], place["3"][0]], abs=0.05)
    assert "withheld" in place


def test_half_and_double_are_equally_far_from_one() -> None:
    rows = [Interval("a", 0, 0.5, 0.2, 1.0, "half"), Interval("b", 0, 2.0, 1.0, 5.0, "double")]
    place = texts(interval_figure(rows, ["ratio"], "hazard ratio", RATIOS))
    assert place["1"][0] - place["0.5"][0] == pytest.approx(place["2"][0] - place["1"][0], abs=0.05)
    assert place["1"][0] - place["0.2"][0] == pytest.approx(place["5"][0] - place["1"][0], abs=0.05)


def test_columns_are_as_tall_as_their_counts_and_a_withheld_one_is_crossed() -> None:
    picture = column_figure([("Knees", [("2020", 100), ("2021", 50), ("2022", None), ("2023", 0)])])
    tall = [float(mark.get("height", 0)) for mark in of_kind(picture, "f0")]
    assert tall[0] == pytest.approx(2 * tall[1], abs=0.05)
    assert tall[2] == 0
    assert [mark.text for mark in picture.marks].count("×") == 1


def test_series_differ_without_colour() -> None:
    """Shapes of marks and dashes of lines; every class of a drawing has a look."""
    svg = ET.fromstring(as_svg(step_figure([TOTAL, PARTIAL], 9), "x", "A title", "What it shows."))
    css = svg.findtext(f"{SVG}style") or ""
    dashes = re.findall(r"\.s\d\{[^}]*?(stroke-dasharray:[\d ]+)?\}", css)
    assert len(set(dashes)) == len(dashes) == 6
    shapes = [mark.get("d", "").count("L") for mark in svg.iter(f"{SVG}path") if mark.get("class") in ("f0", "f1")]
    assert len(set(shapes)) == 2
    used = {kind for mark in svg.iter() for kind in (mark.get("class") or "").split()}
    assert all(f".{kind}" in css for kind in used)
    assert svg.findtext(f"{SVG}title") == "A title"
    assert svg.findtext(f"{SVG}desc") == "What it shows."


def test_everything_is_drawn_within_the_picture() -> None:
    rows = [
        Interval("a reason with a long name indeed, longer than there is room", n, 0.9, 0.1, 3.0, "0.9") for n in (0, 1)
    ]
    for picture in (step_figure([TOTAL, PARTIAL], 9), interval_figure(rows, ["a", "b"], "x", RATIOS)):
        for mark in picture.marks:
            for x, y in points(mark) or [(float(mark.get("x", 0)), float(mark.get("y", 0)))]:
                assert 0 <= x <= WIDTH
                assert 0 <= y <= picture.height
