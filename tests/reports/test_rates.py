"""Revisions per 100 implant-years: by hand, against published limits, and split by time since implantation."""

from pathlib import Path

import numpy as np
import pytest

from regdash import cohort, grouping
from regdash.reports.counted import count
from regdash.reports.policy import Policy
from regdash.reports.windows import window_rows
from regdash.store.cuts import Cut
from tests.cuts import Row, joint, make_cut, random_joints
from tests.reports.desks import EVERYTHING, SHOW_ALL, desk_of, reference

TWENTY_YEARS = 7305


def test_a_rate_has_the_published_poisson_limits(tmp_path: Path) -> None:
    """Ten revisions in 1,000 implant-years; limits of 10 from R's poisson.test (tests/reference/README.md)."""
    rows = [joint(days=TWENTY_YEARS, ended="revised", reason="infection")] * 10 + [joint(days=TWENTY_YEARS)] * 40
    (row,) = desk_of(tmp_path, rows, Policy()).rates(EVERYTHING).rows
    (printed,) = [r for r in reference("poisson_limits") if r["x"] == "10" and r["conf"] == "0.95"]
    assert (row.joints, row.revisions, row.implant_years) == (50, 10, 1000.0)
    assert row.per_100_implant_years == pytest.approx(1.0)
    assert row.lower == pytest.approx(float(printed["exact_lower"]) / 10, abs=1e-9)
    assert row.upper == pytest.approx(float(printed["exact_upper"]) / 10, abs=1e-9)


def test_a_rate_is_withheld_below_forty_joints_and_its_counts_stay(tmp_path: Path) -> None:
    rows = [joint(days=365, ended="revised", reason="infection")] * 2 + [joint(days=1096)] * 37
    (row,) = desk_of(tmp_path, rows, Policy()).rates(EVERYTHING).rows
    assert (row.joints, row.revisions, row.per_100_implant_years, row.upper) == (39, 2, None, None)
    assert row.withheld == "fewer than 40 joints"


def test_a_rate_without_follow_up_is_withheld(tmp_path: Path) -> None:
    rows = [joint(days=0, ended="revised", reason="infection")] * 3
    (row,) = desk_of(tmp_path, rows).rates(EVERYTHING).rows
    assert (row.revisions, row.implant_years, row.per_100_implant_years) == (3, 0, None)
    assert row.withheld == "a rate needs follow-up, and there is none"


def test_groups_add_up_to_the_whole(tmp_path: Path) -> None:
    desk = desk_of(tmp_path, random_joints(800, seed=5))
    (whole,) = desk.rates(EVERYTHING).rows
    parts = desk.rates(EVERYTHING, grouping.parse("class,sex")).rows
    assert sum(row.joints for row in parts) == whole.joints
    assert sum(row.revisions for row in parts) == whole.revisions
    assert sum(row.implant_years for row in parts) == pytest.approx(whole.implant_years)


# ---- windows since implantation ----------------------------------------------------------------


def windows_of(folder: Path, rows: list[Row]) -> list[tuple[int, float, int]]:
    counted = count(Cut(make_cut(folder, rows)), cohort.Cohort())
    return [(row.joints, row.implant_years, row.revisions) for row in window_rows(SHOW_ALL, counted)]


def test_a_revision_on_the_edge_of_a_window_belongs_to_the_earlier_one(tmp_path: Path) -> None:
    """Day 365 is the last of year 1 and day 1826 the last of year 5; day 0 is in the first window."""
    days = [0, 365, 366, 1826, 1827, 3652, 3653]
    rows = [joint(days=day, ended="revised", reason="infection") for day in days]
    assert [revisions for _, _, revisions in windows_of(tmp_path, rows)] == [2, 2, 2, 1]


def test_windows_add_up_to_all_follow_up_and_all_revisions(tmp_path: Path) -> None:
    rows = random_joints(500, seed=6)
    found = windows_of(tmp_path, rows)
    days = np.array([row["days"] for row in rows])
    assert sum(years for _, years, _ in found) == pytest.approx(days.sum() / 365.25)
    assert sum(revisions for _, _, revisions in found) == sum(row["ended"] == "revised" for row in rows)
    assert [joints for joints, _, _ in found] == [500, *(int((days > edge).sum()) for edge in (365, 1826, 3652))]
