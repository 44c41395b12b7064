"""
Rates in windows. A plain second implementation counts every joint's every day; limits are those of the published
Poisson table that test_rates checks.

Source of the convention: a day on a cut belongs to the earlier window, as in R's pyears and tcut.
"""

import random
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest

from regdash import grouping
from regdash.errors import FilterError
from regdash.reports.desk import Desk
from regdash.stats.poisson import revision_rate
from tests.cuts import Row, joint
from tests.reports.desks import EVERYTHING, desk_of

BY_CLASS = grouping.parse("class")
CUTS = (0, 365, 1826)  # whole days of 1 and 5 years


@pytest.fixture(scope="module")
def rows() -> list[Row]:
    draw, found = random.Random(11), []
    for _ in range(60):
        ended = draw.choice(("revised", "died", "in place"))
        found.append(
            joint(
                class_=draw.choice(("total", "partial")),
                implanted_date=date(2012, 1, 1) + timedelta(days=draw.randrange(1500)),
                days=draw.choice((0, 1, 365, 366, 1826, 1827, draw.randrange(2500))),
                ended=ended,
                reason="infection" if ended == "revised" else None,
            )
        )
    return found


@pytest.fixture(scope="module")
def desk(rows: list[Row], tmp_path_factory: pytest.TempPathFactory) -> Desk:
    return desk_of(tmp_path_factory.mktemp("store"), rows)


def day_by_day(rows: list[Row], window: int, first: date, last: date) -> tuple[int, int, int]:
    """Joints, days and revisions in a window of both clocks, each day after the primary looked at by itself."""
    stop = (*CUTS[1:], 10**6)[window]
    joints = days = revisions = 0
    for row in rows:
        lived = range(0 if window == 0 else CUTS[window] + 1, min(row["days"], stop) + 1)
        inside = [day for day in lived if first <= row["implanted_date"] + timedelta(days=day) <= last]
        joints += bool(inside)
        days += sum(day > 0 for day in inside)
        revisions += row["ended"] == "revised" and row["days"] in inside
    return joints, days, revisions


CALENDAR = [
    (date(1900, 1, 1), date(2013, 12, 31)),
    (date(2014, 1, 1), date(2016, 12, 31)),
    (date(2017, 1, 1), date(2100, 1, 1)),
]


def figures(joints: int, days: int, revisions: int) -> tuple[Any, ...]:
    rate = revision_rate(revisions, days / 365.25)
    return joints, pytest.approx(days / 365.25), revisions, rate.per_100_years and pytest.approx(rate.per_100_years)


@pytest.mark.parametrize("endpoint", ["any-revision", "major"])
def test_windows_of_both_clocks_hold_what_happened_in_them(desk: Desk, rows: list[Row], endpoint: str) -> None:
    found = desk.rates(EVERYTHING, BY_CLASS, endpoint, windows=(1, 5), calendar=(2014, 2017)).windows
    assert found is not None
    expected = [
        figures(*day_by_day([row for row in rows if row["class"] == name], window, *dates))
        for name in ("total", "partial")
        for dates in CALENDAR
        for window in range(3)
    ]
    shown = [(row.joints, row.implant_years, row.revisions, row.per_100_implant_years) for row in found]
    for own, brute in zip(shown, expected, strict=True):
        assert own[:3] == brute[:3]
        assert own[3] is None or own[3] == brute[3]


def test_windows_add_up_to_the_whole(desk: Desk) -> None:
    whole = {row.group: row for row in desk.rates(EVERYTHING, BY_CLASS).rows}
    for asked in ({"windows": (0.5, 2, 3)}, {"calendar": (2013, 2015)}, {"windows": (1,), "calendar": (2014,)}):
        rows = desk.rates(EVERYTHING, BY_CLASS, **asked).windows
        assert rows
        for group, row in whole.items():
            own = [part for part in rows if part.group == group]
            assert sum(part.revisions or 0 for part in own) == row.revisions
            assert sum(part.implant_years or 0 for part in own) == pytest.approx(row.implant_years)


def test_windows_say_from_when_to_when(desk: Desk) -> None:
    rows = desk.rates(EVERYTHING, windows=(1,), calendar=(2014,)).windows
    assert rows
    assert [(row.from_years, row.to_years, row.from_date, row.to_date) for row in rows] == [
        (0, 1, None, "2013-12-31"),
        (1, None, None, "2013-12-31"),
        (0, 1, "2014-01-01", None),
        (1, None, "2014-01-01", None),
    ]


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ({"windows": (5, 1)}, "do not follow each other"),
        ({"calendar": (2015, 2014)}, "Calendar years 2015,2014 do not rise"),
        ({"calendar": (1990,)}, "These joints are followed from 2012-"),
        ({"calendar": (2014,), "endpoint": "re-revision"}, "need a clock that starts at implantation"),
    ],
)
def test_windows_that_cannot_be_are_refused_in_one_line(desk: Desk, asked: dict[str, Any], said: str) -> None:
    with pytest.raises(FilterError, match=said):
        desk.rates(EVERYTHING, **asked)


def test_few_joints_in_a_window_withhold_its_rate(rows: list[Row], tmp_path: Path) -> None:
    from regdash.reports.policy import Policy

    found = desk_of(tmp_path, rows, Policy()).rates(EVERYTHING, windows=(5,)).windows
    assert found
    assert found[0].withheld is None
    assert found[1].withheld == "fewer than 40 joints"
